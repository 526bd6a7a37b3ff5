/** Operations known by a key, `{"extensions": {"persistedQuery": {"sha256Hash": KEY}}}`: nothing else is run. */
import { AppError } from '../../domain/errors.ts'
import type { PersistedQueryProvider } from 'mercurius'

export function persistedQueries(known: Readonly<Record<string, string>>): PersistedQueryProvider {
  const keyOf = (body: unknown): string | undefined =>
    (body as { extensions?: { persistedQuery?: { sha256Hash?: string } } }).extensions?.persistedQuery?.sha256Hash
  return {
    isPersistedQuery: () => true,
    getHash: (body: unknown) => keyOf(body) ?? '',
    getQueryFromHash: (key: string) => {
      const query = Object.hasOwn(known, key) ? known[key] : undefined
      return query === undefined ? Promise.reject(new AppError('query_not_persisted')) : Promise.resolve(query)
    },
  } as unknown as PersistedQueryProvider
}

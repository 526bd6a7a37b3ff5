/** Operations known by a key, `{"extensions": {"persistedQuery": {"sha256Hash": KEY}}}`: nothing else is run. */
import { AppError } from '../../domain/errors.ts'
import type { PersistedQueryProvider } from 'mercurius'

type Known = Readonly<Record<string, string>>

export function persistedQueries(known: Known): PersistedQueryProvider {
  return {
    isPersistedQuery: () => true,
    getHash: (body: unknown) => keyOf(body) ?? '',
    getQueryFromHash: async (key: string) => operationOf(known, key),
  } as unknown as PersistedQueryProvider
}

/** The operation that a request names, over whichever transport it came. */
export const persistedQuery = (known: Known, body: unknown): string => operationOf(known, keyOf(body) ?? '')

const keyOf = (body: unknown): string | undefined =>
  (body as { extensions?: { persistedQuery?: { sha256Hash?: string } } }).extensions?.persistedQuery?.sha256Hash

function operationOf(known: Known, key: string): string {
  const query = Object.hasOwn(known, key) ? known[key] : undefined
  if (query === undefined) throw new AppError('query_not_persisted')
  return query
}

/** Use cases over many records at once: one transaction, a fixed number of statements, one event that names all it showed. */
import { AppError } from '../../domain/errors.ts'
import type { Trace } from '../perform.ts'

/** As many as one audit event can name. */
export const MOST_IN_A_BATCH = 500

/** Each id once, as the database writes it. */
export function distinctIds(ids: readonly string[]): string[] {
  const distinct = [...new Set(ids.map((id) => id.toLowerCase()))]
  if (distinct.length > MOST_IN_A_BATCH) throw new RangeError(`a batch holds at most ${MOST_IN_A_BATCH} ids`)
  return distinct
}

/**
 * Answers in the order of the ids, repeated where an id is repeated; null: absent, or another clinic's. Where none of the ids is
 * found the whole is refused as one missing id is.
 */
export function inOrder<T>(trace: Trace, ids: readonly string[], answers: ReadonlyMap<string, T>): (T | null)[] {
  const wanted = distinctIds(ids)
  const missing = wanted.filter((id) => !answers.has(id)).length
  if (missing > 0 && missing === wanted.length) throw new AppError('not_found')
  if (missing > 0) trace.detail('notFound', missing)
  return ids.map((id) => answers.get(id.toLowerCase()) ?? null)
}

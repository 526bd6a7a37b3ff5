import { AppError } from '../../domain/errors.ts'

/** Absent, or another clinic's, or no id at all: the same 404. */
export function orNotFound<T>(row: T | null | undefined): T {
  if (row === null || row === undefined) throw new AppError('not_found')
  return row
}

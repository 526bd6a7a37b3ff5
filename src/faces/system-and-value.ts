import { AppError } from '../domain/errors.ts'
import type { SystemAndValue } from '../domain/reference.ts'

/** Two parameters that name one thing: "identifierSystem" and "identifierValue". */
export function systemAndValue(query: Readonly<Record<string, unknown>>, name: string): SystemAndValue | null {
  const [system, value] = [query[`${name}System`], query[`${name}Value`]] as (string | undefined)[]
  if ((system === undefined) !== (value === undefined)) {
    throw new AppError('invalid_query', { detail: `${name}System and ${name}Value go together.` })
  }
  return system === undefined || value === undefined ? null : { system, value }
}

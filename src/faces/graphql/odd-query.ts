import { AppError } from '../../domain/errors.ts'
import { LIMITS } from './limits.ts'

/** A document sent as its syntax tree would go around the limit on tokens; NUL is stored by no database. */
export function refuseOddQuery(query: string): void {
  if (query.length > LIMITS.characters) {
    throw new AppError('invalid_graphql', { detail: `A query has up to ${LIMITS.characters} characters. Send values as variables.` }) // prettier-ignore
  }
  if (!isJson(query) && !/\0|\\u0000|\\u\{0+\}/i.test(query)) return
  throw new AppError('malformed_request', { detail: 'The query is GraphQL text, without NUL characters.' })
}

function isJson(text: string): boolean {
  try {
    JSON.parse(text)
    return true
  } catch {
    return false
  }
}

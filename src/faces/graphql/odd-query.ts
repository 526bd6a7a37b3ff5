import { AppError } from '../../domain/errors.ts'

/** A document sent as its syntax tree would go around the limit on tokens; NUL is stored by no database. */
export function refuseOddQuery(query: string): void {
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

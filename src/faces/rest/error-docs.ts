import { ERROR_TABLE } from '../../domain/errors.ts'

const RETRY_WORDS = {
  never: 'No: the answer would be the same',
  after_correction: 'After the request was corrected',
  after_delay: 'Later, as Retry-After says',
  same_request: 'The same request again, with the same Idempotency-Key',
} as const

/** openapi/errors.md: every code that a problem document can carry, made from the one table. */
export function errorDocs(): string {
  const rows = Object.entries(ERROR_TABLE)
    .sort(([a, one], [b, other]) => one.status - other.status || (a < b ? -1 : 1))
    .map(([code, { status, title, retry }]) => `| \`${code}\` | ${status} | ${title} | ${RETRY_WORDS[retry]} |`)
  return [
    '# Errors',
    '',
    'Written by `npm run openapi:write`. Every refusal is a problem document (RFC 9457, `application/problem+json`) with one',
    'of these codes, and nothing was stored. `errors[]` lists the faults found, the first 100, each with a JSON pointer.',
    '`requestId` names the entry in the log; send it along when you ask.',
    '',
    '| code | status | when | try again |',
    '|---|---|---|---|',
    ...rows,
    '',
  ].join('\n')
}

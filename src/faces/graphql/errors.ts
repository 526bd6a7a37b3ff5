/** From what a resolver threw to what a client is told: the row of the one error table, and never a word more. */
import type { FastifyBaseLogger } from 'fastify'
import { GraphQLError, type ExecutionResult, type GraphQLFormattedError } from 'graphql'
import { AppError, ERROR_TABLE } from '../../domain/errors.ts'
import { problemOf } from '../../server/problem.ts'

interface Told {
  readonly statusCode: number
  readonly response: ExecutionResult
  /** Of an outage, for the header of an HTTP answer. */
  readonly retryAfterSeconds?: number | undefined
}

/**
 * Part of an answer is shown beside the refusal of another part. Where the log could not be written or the database was
 * away nothing is shown at all: 503, as over REST.
 */
export function tellErrors(
  execution: ExecutionResult,
  { id: requestId, log }: { readonly id: string; readonly log: FastifyBaseLogger },
): Told {
  const told = found(execution).map((error) => tell(error, requestId, log))
  const outage = told.find(({ status }) => status >= 503)
  const errors = told.map(({ formatted }) => formatted)
  if (outage !== undefined) {
    const { status: statusCode, retryAfterSeconds } = outage
    return { statusCode, retryAfterSeconds, response: { data: null, errors } as unknown as ExecutionResult }
  }
  const nothing = execution.data === undefined || execution.data === null
  const statusCode = nothing ? (told[0]?.status ?? 200) : 200
  return { statusCode, response: { data: execution.data ?? null, errors } as unknown as ExecutionResult }
}

/** The same, for whoever writes down what was refused. */
export const knownErrors = (execution: ExecutionResult): readonly AppError[] => found(execution).map(asKnown)

const found = ({ errors = [] }: ExecutionResult) => inOrder(errors.flatMap(unpacked))

/** As they stand in the operation, not as they happened to be found: two fields asked at once are refused in any order. */
function inOrder(errors: readonly (GraphQLError | Error)[]): readonly (GraphQLError | Error)[] {
  const place = (error: GraphQLError | Error): readonly (string | number)[] =>
    error instanceof GraphQLError ? [error.locations?.[0]?.line ?? 0, error.locations?.[0]?.column ?? 0, ...(error.path ?? [])] : [] // prettier-ignore
  return errors.toSorted((a, b) => comparePlaces(place(a), place(b)))
}

function comparePlaces(a: readonly (string | number)[], b: readonly (string | number)[]): number {
  const at = a.findIndex((step, i) => step !== b[i])
  const [left, right] = [a[at], b[at]]
  if (at === -1 || left === undefined || right === undefined) return a.length - b.length
  return left < right ? -1 : 1
}

/** mercurius throws one error around the many that parsing or validation found. */
function unpacked(error: GraphQLError): readonly (GraphQLError | Error)[] {
  const inner = (error.originalError as { errors?: unknown } | undefined)?.errors
  return Array.isArray(inner) ? (inner as Error[]) : [error]
}

function tell(error: GraphQLError | Error, requestId: string, log: FastifyBaseLogger) {
  const known = asKnown(error)
  if (known.status >= 500) log.error({ code: known.code, err: known.cause ?? error }, 'request failed')
  const formatted: GraphQLFormattedError = {
    message: known.detail,
    ...(error instanceof GraphQLError && error.locations !== undefined ? { locations: error.locations } : {}),
    ...(error instanceof GraphQLError && error.path !== undefined ? { path: error.path } : {}),
    extensions: { code: ERROR_TABLE[known.code].graphql, problem: problemOf(known, requestId) },
  }
  return { formatted, status: known.status, retryAfterSeconds: known.retryAfterSeconds }
}

function asKnown(error: GraphQLError | Error): AppError {
  const original = error instanceof GraphQLError ? error.originalError : error
  if (original instanceof AppError) return original
  // An answer that does not fit its own type is our fault, though graphql-js finds it.
  if (
    error instanceof GraphQLError &&
    error.path !== undefined &&
    original instanceof GraphQLError &&
    original.nodes === undefined
  ) {
    return new AppError('internal', { internal: original.message, cause: original })
  }
  // Written by graphql-js or by one of our rules about the operation: it names fields of the schema, and values are cut out.
  if (error instanceof GraphQLError && (original === undefined || original instanceof GraphQLError)) {
    return new AppError('invalid_graphql', { detail: withoutValues(error.message) })
  }
  return new AppError('internal', { internal: original?.message ?? error.message, cause: original ?? error })
}

/** What was sent may be a name or a note: a refusal says where and what belongs there, never what stood there. */
export function withoutValues(message: string): string {
  const sentence = message.replace(/^Syntax Error: /, '')
  const variable = /^Variable "(\$\w+)" got invalid value /.exec(sentence)?.[1]
  if (variable === undefined) return whatBelongs(sentence).slice(0, 300)
  const said = whatBelongs(sentence)
  const place = placeOf(sentence)
  return `Variable "${variable}"${place === undefined ? '' : ` at "${place}"`}: ${said}`.slice(0, 300)
}

/** The sentences of graphql-js that hold a value, without it; any other about a value says only that it is not accepted. */
function whatBelongs(sentence: string): string {
  const word = /does not exist in "(\w+)" enum\.( Did you mean the enum value .*)?$/.exec(sentence)
  if (word !== null) return `No such word in "${word[1] ?? ''}".${word[2] ?? ''}`
  const scalar = /(?:^|; )(?:Enum "(\w+)"|(\w+)) cannot represent /.exec(sentence)
  if (scalar !== null) return `${scalar[1] ?? scalar[2] ?? ''} cannot represent this value.`
  const expected = /(?:^|; )(Expected (?:value of )?type "[\w![\]]+"(?: to be an object|)|Expected non-nullable type "[\w![\]]+" not to be null)/.exec(sentence) // prettier-ignore
  if (expected !== null) return `${expected[1] ?? ''}.`
  const field = /(?:^|; )(Field "\w+" (?:is not defined by type|of required type) "[\w![\]]+".*)$/.exec(sentence)
  if (field !== null) return field[1] ?? ''
  if (sentence.includes('got invalid value')) return 'This value is not accepted.'
  return sentence.replace(/, found .*$/s, '.').replace(/^Unexpected (\w+) ".*$/s, 'Unexpected $1.')
}

/** Where in a variable: graphql-js puts it between the value and what it says of it. */
const placeOf = (sentence: string): string | undefined => / at "([\w.[\]]+)"; (?!.*" at ")/s.exec(sentence)?.[1]

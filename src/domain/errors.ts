/**
 * The one error table. Every refusal of the service is a row here: code, HTTP status, GraphQL code, public sentence.
 * `internal` text of an AppError goes to the log and never leaves the process.
 */

export interface FieldFault {
  /** JSON pointer in URI fragment form: "#/sets/2/recording/channels/0/unit". */
  readonly pointer: string
  readonly code: string
  readonly message: string
  /** Echoed for units and enumerations only, never for names, identifiers or notes. */
  readonly received?: string
  readonly suggestion?: string
  readonly accepted?: readonly string[]
}

type Retry = 'never' | 'after_correction' | 'after_delay' | 'same_request'

interface ErrorRow {
  readonly status: number
  readonly graphql: string
  readonly title: string
  readonly retry: Retry
}

const row = (status: number, graphql: string, title: string, retry: Retry): ErrorRow => ({
  status,
  graphql,
  title,
  retry,
})

export const ERROR_TABLE = {
  // 400: shape, unit, range, not in the description
  invalid_document: row(400, 'BAD_USER_INPUT', 'The document has faults', 'after_correction'),
  invalid_json: row(400, 'BAD_USER_INPUT', 'The body is not acceptable JSON', 'after_correction'),
  duplicate_key: row(400, 'BAD_USER_INPUT', 'A key occurs twice in one object', 'after_correction'),
  unit_not_accepted: row(400, 'BAD_USER_INPUT', 'A unit is not accepted', 'after_correction'),
  unknown_field: row(400, 'BAD_USER_INPUT', 'A field is not known here', 'after_correction'),
  value_out_of_range: row(400, 'BAD_USER_INPUT', 'A value is out of range', 'after_correction'),
  recording_not_readable: row(400, 'BAD_USER_INPUT', 'A recording cannot be read', 'after_correction'),
  not_in_description: row(400, 'BAD_USER_INPUT', 'A value is not in the description of the dynamometer', 'after_correction'), // prettier-ignore
  invalid_query: row(400, 'BAD_USER_INPUT', 'A query parameter is not acceptable', 'after_correction'),
  invalid_cursor: row(400, 'BAD_USER_INPUT', 'The cursor is not one of ours', 'after_correction'),
  invalid_graphql: row(400, 'BAD_OPERATION', 'The GraphQL operation is not acceptable', 'after_correction'),
  query_too_costly: row(400, 'QUERY_TOO_COSTLY', 'The GraphQL operation asks for too much at once', 'after_correction'),
  query_not_persisted: row(400, 'PERSISTED_QUERY_NOT_FOUND', 'Only persisted GraphQL operations are run here', 'after_correction'), // prettier-ignore
  idempotency_key_required: row(400, 'BAD_USER_INPUT', 'The Idempotency-Key header is missing or malformed', 'after_correction'), // prettier-ignore
  purpose_required: row(400, 'BAD_USER_INPUT', 'The Purpose header is missing or malformed', 'after_correction'),
  malformed_request: row(400, 'BAD_USER_INPUT', 'The request is malformed', 'after_correction'),
  // 401, 403, 404
  unauthenticated: row(401, 'UNAUTHENTICATED', 'A valid access token is needed', 'after_correction'),
  forbidden: row(403, 'FORBIDDEN', 'This role may not do that', 'never'),
  purpose_not_agreed: row(403, 'FORBIDDEN', 'No consent in force names this purpose', 'never'),
  not_found: row(404, 'NOT_FOUND', 'There is nothing here', 'never'),
  method_not_allowed: row(405, 'BAD_REQUEST', 'This address does not take that method', 'never'),
  // 408, 409, 412, 413, 415, 422, 428, 431
  request_too_slow: row(408, 'BAD_REQUEST', 'The request did not arrive in time', 'same_request'),
  external_id_conflict: row(409, 'CONFLICT', 'Other content exists under this external id', 'after_correction'),
  identifier_conflict: row(409, 'CONFLICT', 'This identifier is in use', 'after_correction'),
  withdrawn: row(409, 'CONFLICT', 'This record was entered in error and is withdrawn', 'never'),
  already_decided: row(409, 'CONFLICT', 'This was decided before', 'never'),
  legal_hold: row(409, 'CONFLICT', 'A legal hold forbids erasing this subject', 'never'),
  consent_in_force: row(409, 'CONFLICT', 'A consent to this team is in force', 'after_correction'),
  key_in_flight: row(409, 'CONFLICT', 'A request with this Idempotency-Key is in flight', 'after_delay'),
  stale_version: row(412, 'PRECONDITION_FAILED', 'The record has changed since', 'after_correction'),
  too_large: row(413, 'PAYLOAD_TOO_LARGE', 'The request is too large', 'never'),
  unsupported_media_type: row(415, 'BAD_REQUEST', 'This content type is not accepted', 'after_correction'),
  reference_not_found: row(422, 'REFERENCE_NOT_FOUND', 'A reference points at nothing known here', 'after_correction'),
  key_reused: row(422, 'KEY_REUSED', 'This Idempotency-Key was used with other content', 'never'),
  precaution_broken: row(422, 'PRECAUTION_BROKEN', 'The plan breaks a precaution of the episode', 'after_correction'),
  version_required: row(428, 'PRECONDITION_REQUIRED', 'If-Match with the version you edit is needed', 'after_correction'), // prettier-ignore
  headers_too_large: row(431, 'BAD_REQUEST', 'The headers are too large', 'after_correction'),
  // 429, 5xx
  too_many_requests: row(429, 'TOO_MANY_REQUESTS', 'Too many requests', 'after_delay'),
  internal: row(500, 'INTERNAL', 'Something went wrong on our side', 'same_request'),
  busy: row(503, 'UNAVAILABLE', 'The service is busy', 'after_delay'),
  audit_unavailable: row(503, 'UNAVAILABLE', 'The audit log cannot be written, so nothing is shown or stored', 'after_delay'), // prettier-ignore
  ledger_alarm: row(503, 'UNAVAILABLE', 'The audit ledger and its witness disagree: nothing is sealed until a person has looked', 'never'), // prettier-ignore
  witness_unavailable: row(503, 'UNAVAILABLE', 'The witness of the audit ledger cannot be read or written, so nothing is sealed or verified', 'after_delay'), // prettier-ignore
  sealing_unavailable: row(503, 'UNAVAILABLE', 'This process is not set up to seal or verify the audit ledger', 'never'), // prettier-ignore
  teams_unavailable: row(503, 'UNAVAILABLE', 'This process is not set up to serve teams', 'never'),
  issuer_unavailable: row(503, 'UNAVAILABLE', 'The keys of the token issuer cannot be had, so no token of it can be checked', 'after_delay'), // prettier-ignore
  database_unavailable: row(503, 'UNAVAILABLE', 'The database does not answer', 'after_delay'),
} as const satisfies Record<string, ErrorRow>

export type ErrorCode = keyof typeof ERROR_TABLE

export interface AppErrorOptions {
  /** Public sentence about this occurrence; defaults to the title. */
  readonly detail?: string
  readonly faults?: readonly FieldFault[]
  /** Extra public members of the problem document, e.g. what differs. */
  readonly extra?: Readonly<Record<string, unknown>>
  readonly retryAfterSeconds?: number
  /** For the log only. */
  readonly internal?: string
  readonly cause?: unknown
}

export class AppError extends Error {
  readonly code: ErrorCode
  readonly detail: string
  readonly faults: readonly FieldFault[]
  readonly extra: Readonly<Record<string, unknown>>
  readonly retryAfterSeconds: number | undefined

  constructor(code: ErrorCode, options: AppErrorOptions = {}) {
    super(options.internal ?? options.detail ?? ERROR_TABLE[code].title, { cause: options.cause })
    this.name = 'AppError'
    this.code = code
    this.detail = options.detail ?? `${ERROR_TABLE[code].title}.`
    this.faults = options.faults ?? []
    this.extra = options.extra ?? {}
    this.retryAfterSeconds = options.retryAfterSeconds
  }

  get status(): number {
    return ERROR_TABLE[this.code].status
  }
}

/** Fault codes of one family share the top-level code of the problem document. */
const FAULT_FAMILY: Readonly<Record<string, ErrorCode>> = {
  unit_not_ucum: 'unit_not_accepted',
  unit_wrong_kind: 'unit_not_accepted',
  unit_bare_percent_refused: 'unit_not_accepted',
  invalid_json: 'invalid_json',
  invalid_utf8: 'invalid_json',
  too_deep: 'invalid_json',
  nul_character: 'invalid_json',
  lone_surrogate: 'invalid_json',
  forbidden_key: 'invalid_json',
  unknown_field: 'unknown_field',
  duplicate_key: 'duplicate_key',
  out_of_range: 'value_out_of_range',
  in_the_future: 'value_out_of_range',
  not_in_description: 'not_in_description',
  recording_not_readable: 'recording_not_readable',
}

export const MAX_FAULTS = 100

/** One 400 for a list of faults: the family of the first where all agree, else invalid_document. */
export function documentError(faults: readonly FieldFault[]): AppError {
  const families = new Set(faults.map((f) => FAULT_FAMILY[f.code] ?? 'invalid_document'))
  const [only] = families
  const code = families.size === 1 && only !== undefined ? only : 'invalid_document'
  const shown = faults.slice(0, MAX_FAULTS)
  const count = faults.length === 1 ? '1 fault' : `${faults.length} faults`
  const detail =
    code === 'unit_not_accepted'
      ? `${faults.length} unit${faults.length === 1 ? '' : 's'} in the document ${faults.length === 1 ? 'is' : 'are'} not accepted. Nothing was stored.`
      : `${count} in the document. Nothing was stored.`
  return new AppError(code, { detail, faults: shown })
}

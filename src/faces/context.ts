/** What both faces are made with, and the context of a use case out of a request. */
import type { FastifyRequest } from 'fastify'
import { isCodeWord } from '../application/audit/words.ts'
import type { Context } from '../application/context.ts'
import type { PreparationPool } from '../application/prepare-session/pool.ts'
import type { ReportKeys } from '../application/reports/report-keys.ts'
import type { TeamContext } from '../application/sharing/perform-for-team.ts'
import { AppError } from '../domain/errors.ts'
import type { TokenVerifier } from '../server/verify-token.ts'
import type { Announcements } from '../tenancy/announcements.ts'
import type { Database, TeamDatabase } from '../tenancy/database.ts'

export interface FaceDeps {
  readonly db: Database
  readonly verify: TokenVerifier
  readonly pool: PreparationPool
  readonly clock: () => Date
  /** null where this process was given no connection for teams. */
  readonly teamDb: TeamDatabase | null
  readonly reportKeys: ReportKeys
  readonly ledger: Context['ledger']
  readonly subjectKeys: Context['subjectKeys']
  readonly announcements: Announcements
}

/** As much of a request as a use case is told of. */
export type Asker = Pick<FastifyRequest, 'id' | 'actor' | 'headers'>

export function contextOf(request: Asker, deps: FaceDeps): Context {
  if (request.actor?.kind !== 'clinic') throw new AppError('unauthenticated')
  return {
    db: deps.db,
    actor: request.actor,
    requestId: request.id,
    now: deps.clock(),
    purpose: purposeOf(request),
    pool: deps.pool,
    ledger: deps.ledger,
    subjectKeys: deps.subjectKeys,
  }
}

/** Free text about a person has no place in the log, so a purpose is one code word. */
function purposeOf(request: Asker): string | null {
  const { purpose } = request.headers
  return typeof purpose === 'string' && isCodeWord(purpose) ? purpose : null
}

export function requirePurposeWord(request: Asker): void {
  if (request.headers['purpose'] === undefined || purposeOf(request) !== null) return
  throw new AppError('malformed_request', {
    detail: 'The header Purpose is one code word, such as rehabilitation-review.',
  })
}

export function teamContextOf(request: Asker, deps: FaceDeps): TeamContext {
  if (request.actor?.kind !== 'team') throw new AppError('unauthenticated')
  const { purpose } = request.headers
  return {
    teamDb: deps.teamDb,
    actor: request.actor,
    requestId: request.id,
    now: deps.clock(),
    purpose: typeof purpose === 'string' ? purpose : null,
  }
}

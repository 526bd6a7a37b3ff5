/**
 * The frame of everything a team does: a purpose, its own database role, and an event in the log of every clinic concerned,
 * in the transaction of the pull. If one of them can't be written nothing is shown.
 */
import { v7 as uuidv7 } from 'uuid'
import { PURPOSE } from '../../domain/consent-document.ts'
import { AppError } from '../../domain/errors.ts'
import { isClientId } from '../../ledger/canonical-event.ts'
import { appendTeamEvent } from '../../store/team-store.ts'
import type { TeamActor } from '../../tenancy/actor.ts'
import type { TeamAction } from '../../tenancy/policy.ts'
import type { TeamDatabase } from '../../tenancy/database.ts'
import { withTeam, type TeamTx } from '../../tenancy/with-team.ts'

export interface TeamContext {
  /** null where this process was given no connection for teams. */
  readonly teamDb: TeamDatabase | null
  readonly actor: TeamActor
  readonly requestId: string
  readonly now: Date
  /** As sent in the header, unchecked; null: none was. */
  readonly purpose: string | null
}

/** Per clinic, the ids that the team knows of what was shown; a clinic that was looked at and showed nothing has none. */
export interface Disclosures {
  readonly [clinicId: string]: readonly string[]
}

export interface Pull<T> {
  readonly answer: T
  readonly disclosed: Disclosures
  readonly details?: Readonly<Record<string, string | number | boolean>>
}

export async function performForTeam<T>(
  ctx: TeamContext,
  action: TeamAction,
  work: (tx: TeamTx) => Promise<Pull<T>>,
): Promise<T> {
  const { purpose, actor } = ctx
  if (purpose === null || purpose.length > 64 || !PURPOSE.test(purpose)) {
    throw new AppError('purpose_required', {
      detail: 'Send the header Purpose: one of the code words that the consents name, e.g. availability-planning.',
    })
  }
  if (ctx.teamDb === null) throw new AppError('teams_unavailable')
  return withTeam(ctx.teamDb, actor, purpose, async (tx) => {
    const { answer, disclosed, details = {} } = await work(tx)
    for (const [clinicId, sharedIds] of Object.entries(disclosed)) {
      const event = {
        eventId: uuidv7(),
        clinicId,
        principalId: actor.principalId,
        client: actor.client !== null && isClientId(actor.client) ? actor.client : null,
        action,
        requestId: ctx.requestId,
        sharedIds,
        details: { ...details, shown: sharedIds.length },
      }
      await appendOrNothing(tx, event)
    }
    return answer
  })
}

async function appendOrNothing(tx: TeamTx, event: Parameters<typeof appendTeamEvent>[1]): Promise<void> {
  try {
    await appendTeamEvent(tx, event)
  } catch (cause) {
    throw new AppError('audit_unavailable', { retryAfterSeconds: 5, internal: String(cause), cause })
  }
}

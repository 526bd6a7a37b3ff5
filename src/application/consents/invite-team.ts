import { findInvitation, findTeamName, insertInvitation, listInvitations } from '../../store/consent-store.ts'
import type { InvitationRow } from '../../store/consent-store.ts'
import type { Context } from '../context.ts'
import { createOnce, type Created, type OnceKey } from '../create-once.ts'
import type { LazyDocument } from '../../domain/parsed.ts'
import { perform } from '../perform.ts'
import { orNotFound } from '../shared/existing.ts'

/** Lets a team be named in consents; it sees nothing by that. Its id comes from the operator who made it. */
export async function inviteTeam(
  ctx: Context,
  input: { teamId: string; once: OnceKey; document: LazyDocument<Record<string, never>> },
): Promise<Created> {
  return createOnce(ctx, 'teams.invite', input.once, async (tx, trace) => {
    const headers = { Location: '/v1/teams' }
    const teamName = orNotFound(await findTeamName(tx, input.teamId))
    input.document()
    const already = await findInvitation(tx, input.teamId)
    if (already !== null) return { status: 200, headers, body: represent(already) }
    const row = { teamId: input.teamId, teamName, invitedBy: ctx.actor.principalId, invitedAt: ctx.now }
    await insertInvitation(tx, row)
    trace.resource('team', input.teamId)
    return { status: 201, headers, body: represent(row) }
  })
}

export async function listTeams(ctx: Context) {
  return perform(ctx, 'teams.list', async (tx) => ({ items: (await listInvitations(tx)).map(represent) }))
}

const represent = (row: InvitationRow) => ({
  id: row.teamId,
  name: row.teamName,
  invitedBy: row.invitedBy,
  invitedAt: row.invitedAt.toISOString(),
})

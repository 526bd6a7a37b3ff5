import type { TeamActor } from '../../tenancy/actor.ts'
import { actionsOf, authorise } from '../../tenancy/policy.ts'
import type { Context } from '../context.ts'

/** What the token says about its own bearer; nobody else's data, so no event of the audit log. */
export function getMe({ actor }: Context) {
  authorise(actor, 'me.read')
  return {
    principalId: actor.principalId,
    displayName: actor.displayName,
    clinic: { id: actor.clinicId, name: actor.clinicName, timeZone: actor.timeZone },
    role: actor.role,
    licensed: actor.licensed,
    client: actor.client,
    mayDo: actionsOf(actor.role),
  }
}

export function getMeAsTeam(actor: TeamActor) {
  return {
    principalId: actor.principalId,
    displayName: actor.displayName,
    team: { id: actor.teamId, name: actor.teamName },
    role: 'reader',
    client: actor.client,
  }
}

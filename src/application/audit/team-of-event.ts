import { listInvitations } from '../../store/consent-store.ts'
import type { AuditEventRow } from '../../store/audit-store.ts'
import type { ClinicTx } from '../../tenancy/with-clinic.ts'

export interface NamedTeam {
  readonly id: string
  /** As it was called when the clinic invited it. */
  readonly name: string | null
}

/** Of an event, the team whose reader it was: a reader is a principal that no clinic knows by name. */
export async function teamOfEvents(tx: ClinicTx): Promise<(event: AuditEventRow) => NamedTeam | null> {
  const names = new Map((await listInvitations(tx)).map(({ teamId, teamName }) => [teamId, teamName]))
  return ({ actorRole, resourceIds }) => {
    if (actorRole !== 'team_reader') return null
    const id = (resourceIds as string[]).find((resource) => resource.startsWith('team/'))?.slice('team/'.length)
    return id === undefined ? null : { id, name: names.get(id) ?? null }
  }
}

/** From a verified token to an actor: the membership row decides the role, so a removed member is out at the next request. */
import type { Actor, ClinicRole } from './actor.ts'
import type { Database } from './database.ts'

export interface VerifiedToken {
  readonly issuer: string
  readonly sub: string
  readonly clinicId: string | null
  readonly teamId: string | null
  readonly client: string | null
  readonly expiresAt: Date
}

interface MemberRow {
  principal_id: string
  role: ClinicRole
  display_name: string
  licensed: boolean
  clinic_name: string
  time_zone: string
}

interface ReaderRow {
  principal_id: string
  display_name: string
  team_name: string
}

/** null: nobody we know in the clinic or team that the token names. One statement, one round trip. */
export async function actorOf(db: Database, token: VerifiedToken): Promise<Actor | null> {
  if (token.clinicId !== null) {
    const rows = await db.unsafeClient.$queryRaw<MemberRow[]>`
      select * from authenticate_member(${token.clinicId}::uuid, ${token.issuer}, ${token.sub})`
    const member = rows[0]
    if (member === undefined) return null
    return {
      kind: 'clinic',
      clinicId: token.clinicId,
      clinicName: member.clinic_name,
      timeZone: member.time_zone,
      principalId: member.principal_id,
      displayName: member.display_name,
      role: member.role,
      licensed: member.licensed,
      client: token.client,
    }
  }
  if (token.teamId === null) return null
  const rows = await db.unsafeClient.$queryRaw<ReaderRow[]>`
    select * from authenticate_team_reader(${token.teamId}::uuid, ${token.issuer}, ${token.sub})`
  const reader = rows[0]
  if (reader === undefined) return null
  return {
    kind: 'team',
    teamId: token.teamId,
    teamName: reader.team_name,
    principalId: reader.principal_id,
    displayName: reader.display_name,
    client: token.client,
  }
}

/** Refusals that belong to no clinic. Bounded in the database (a ring), so that a flood costs nothing but refusals. */
export async function recordSecurityEvent(
  db: Database,
  event: { requestId: string; code: string; route: string | null; issuer: string | null },
): Promise<void> {
  await db.unsafeClient.$queryRaw`
    select 1 as done from record_security_event(${event.requestId}, ${event.code}, ${event.route}, ${event.issuer})`
}

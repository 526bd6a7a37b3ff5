/**
 * What an operator does outside the interface: clinics, members, teams. Acts as limb_ledger_owner, which row-level
 * security binds as well, so each act names its clinic; and each leaves its event in that clinic's ledger, in its own
 * transaction. A team belongs to no clinic, so making one leaves no event; to let a reader into it, or out, is one in the
 * log of every clinic that has invited the team.
 */
import type pg from 'pg'
import { v7 as uuidv7 } from 'uuid'
import type { SystemAndValue } from '../domain/reference.ts'
import type { ClinicRole } from '../tenancy/actor.ts'
import { OWNER_ROLE } from './migrate/ensure-roles.ts'
import { withClient } from './migrate/with-client.ts'

/** Said to the operator: one sentence, no stack needed. */
export class AdminError extends Error {}

declare const owner: unique symbol
export type OwnerClient = pg.Client & { readonly [owner]: true }

export interface NewMember {
  readonly clinicId: string
  readonly issuer: string
  readonly sub: string
  readonly role: ClinicRole
  readonly displayName: string
  readonly licence?: string | undefined
  readonly identifiers?: readonly SystemAndValue[]
}

export async function withOwner<T>(adminUrl: string, work: (client: OwnerClient) => Promise<T>): Promise<T> {
  return withClient(adminUrl, async (client) => {
    await client.query(`set role ${OWNER_ROLE}`)
    return work(client as OwnerClient)
  })
}

export async function createClinic(
  client: OwnerClient,
  clinic: { name: string; timeZone: string; issuers: readonly string[] },
): Promise<string> {
  const id = uuidv7()
  await inClinic(client, id, async () => {
    await client.query('insert into clinic (id, name, time_zone) values ($1, $2, $3)', [
      id,
      clinic.name,
      clinic.timeZone,
    ])
    await client.query('insert into clinic_issuer (clinic_id, issuer) select $1, unnest($2::text[])', [
      id,
      clinic.issuers,
    ])
    return { action: 'clinics.create', resources: [`clinic/${id}`], details: { issuers: clinic.issuers } }
  })
  return id
}

/** A member who was removed comes back as the same principal, with the role given now. */
export async function addMember(client: OwnerClient, member: NewMember): Promise<string> {
  const { clinicId, issuer, role, displayName, licence = null, identifiers = [] } = member
  let principalId = ''
  await inClinic(client, clinicId, async () => {
    await requireClinic(client, clinicId)
    const { rowCount: listed } = await client.query('select from clinic_issuer where clinic_id = $1 and issuer = $2', [
      clinicId,
      issuer,
    ])
    if (listed === 0)
      throw new AdminError(`The clinic does not list the issuer ${issuer}: its tokens would be refused.`)
    principalId = await principal(client, issuer, member.sub)
    const { rowCount } = await client.query(
      `insert into membership (clinic_id, principal_id, role, display_name, licence) values ($1, $2, $3, $4, $5)
       on conflict (clinic_id, principal_id) do update
         set role = excluded.role, display_name = excluded.display_name, licence = excluded.licence,
             valid_from = now(), valid_until = null
         where membership.valid_until <= now()`,
      [clinicId, principalId, role, displayName, licence],
    )
    if (rowCount === 0) throw new AdminError(`${member.sub} is a member of this clinic already.`)
    for (const { system, value } of identifiers)
      await client.query(
        `insert into member_identifier (clinic_id, system, value, principal_id) values ($1, $2, $3, $4)
         on conflict (clinic_id, system, value) do update set principal_id = excluded.principal_id`,
        [clinicId, system, value, principalId],
      )
    const details = { role, licensed: licence !== null }
    return { action: 'members.add', resources: [`principal/${principalId}`], details }
  })
  return principalId
}

/** Out at the next request, whatever its tokens say. The row stays: it is who recorded things. */
export async function removeMember(
  client: OwnerClient,
  member: { clinicId: string; issuer: string; sub: string },
): Promise<void> {
  await inClinic(client, member.clinicId, async () => {
    await requireClinic(client, member.clinicId)
    const { rows } = await client.query<{ principal_id: string; role: string }>(
      `update membership m set valid_until = now() from principal p
       where p.id = m.principal_id and p.issuer = $2 and p.sub = $3 and m.clinic_id = $1
         and (m.valid_until is null or m.valid_until > now())
       returning m.principal_id, m.role`,
      [member.clinicId, member.issuer, member.sub],
    )
    const removed = rows[0]
    if (removed === undefined) throw new AdminError(`${member.sub} of ${member.issuer} is no member of this clinic.`)
    return {
      action: 'members.remove',
      resources: [`principal/${removed.principal_id}`],
      details: { role: removed.role },
    }
  })
}

export async function createTeam(client: OwnerClient, team: { name: string }): Promise<string> {
  const id = uuidv7()
  await client.query('insert into team (id, name) values ($1, $2)', [id, team.name])
  return id
}

export async function addTeamReader(
  client: OwnerClient,
  reader: { teamId: string; issuer: string; sub: string; displayName: string },
): Promise<string> {
  const { teamId, issuer, sub, displayName } = reader
  return inTransaction(client, async () => {
    const { rowCount } = await client.query('select from team where id = $1', [teamId])
    if (rowCount === 0) throw new AdminError('There is no team with this id.')
    const principalId = await principal(client, issuer, sub)
    await client.query(
      `insert into team_member (team_id, principal_id, display_name) values ($1, $2, $3)
       on conflict (team_id, principal_id) do update set display_name = excluded.display_name, valid_until = null`,
      [teamId, principalId, displayName],
    )
    await appendForTeam(client, 'team-readers.add', teamId, principalId)
    return principalId
  })
}

/** Out at the next request, whatever their tokens say. */
export async function removeTeamReader(
  client: OwnerClient,
  { teamId, issuer, sub }: { teamId: string; issuer: string; sub: string },
): Promise<void> {
  await inTransaction(client, async () => {
    const { rows } = await client.query<{ principal_id: string }>(
      `update team_member m set valid_until = now() from principal p
       where p.id = m.principal_id and p.issuer = $2 and p.sub = $3 and m.team_id = $1
         and (m.valid_until is null or m.valid_until > now())
       returning m.principal_id`,
      [teamId, issuer, sub],
    )
    const removed = rows[0]
    if (removed === undefined) throw new AdminError(`${sub} of ${issuer} is no reader of this team.`)
    await appendForTeam(client, 'team-readers.remove', teamId, removed.principal_id)
  })
}

interface Act {
  readonly action: string
  readonly resources: readonly string[]
  readonly details: Readonly<Record<string, unknown>>
}

async function inClinic(client: OwnerClient, clinicId: string, work: () => Promise<Act>): Promise<void> {
  await inTransaction(client, async () => {
    await setClinic(client, clinicId)
    await append(client, clinicId, await work())
  })
}

async function inTransaction<T>(client: OwnerClient, work: () => Promise<T>): Promise<T> {
  await client.query('begin')
  try {
    const result = await work()
    await client.query('commit')
    return result
  } catch (error) {
    await client.query('rollback')
    throw error
  }
}

async function setClinic(client: OwnerClient, clinicId: string): Promise<void> {
  await client.query(`select set_config('app.clinic_id', $1, true)`, [clinicId])
}

/** In the log of every clinic that has invited the team: its subjects are who the reader may come to see. */
async function appendForTeam(client: OwnerClient, action: string, teamId: string, principalId: string): Promise<void> {
  const resources = [`team/${teamId}`, `principal/${principalId}`]
  const { rows: clinics } = await client.query<{ id: string }>('select id from clinic')
  for (const { id } of clinics) {
    await setClinic(client, id)
    const { rowCount } = await client.query('select from team_invitation where clinic_id = $1 and team_id = $2', [id, teamId]) // prettier-ignore
    if (rowCount !== 0) await append(client, id, { action, resources, details: {} })
  }
}

async function append(client: OwnerClient, clinicId: string, { action, resources, details }: Act): Promise<void> {
  await client.query(
    `insert into audit_event (clinic_id, id, actor_role, action, outcome, request_id, resource_ids, details)
     values ($1, $2, 'operator', $3, 'done', $4, $5, $6)`,
    [clinicId, uuidv7(), action, uuidv7(), JSON.stringify(resources), JSON.stringify(details)],
  )
}

async function requireClinic(client: OwnerClient, clinicId: string): Promise<void> {
  const { rowCount } = await client.query('select from clinic where id = $1', [clinicId])
  if (rowCount === 0) throw new AdminError('There is no clinic with this id.')
}

/** One principal for each issuer and subject, whatever clinics and teams it is in. */
async function principal(client: OwnerClient, issuer: string, sub: string): Promise<string> {
  await client.query(
    'insert into principal (id, issuer, sub) values ($1, $2, $3) on conflict (issuer, sub) do nothing',
    [uuidv7(), issuer, sub],
  )
  const { rows } = await client.query<{ id: string }>('select id from principal where issuer = $1 and sub = $2', [
    issuer,
    sub,
  ])
  const id = rows[0]?.id
  if (id === undefined) throw new AdminError(`The principal ${sub} could not be made.`)
  return id
}

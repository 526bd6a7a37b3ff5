/** A clinic with a ledger on a real database: events as the service writes them, sealed as the sealer does. */
import { mkdtemp, rm } from 'node:fs/promises'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { randomUUID } from 'node:crypto'
import pg from 'pg'
import { afterAll } from 'vitest'
import type { ClinicReader } from '../../src/ledger/ledger-rows.ts'
import { inClinic } from '../../src/ledger/ledger-rows.ts'
import type { Sealed, SealerDeps } from '../../src/ledger/sealer.ts'
import { sealNow } from '../../src/ledger/sealer.ts'
import { headSignerFromPem, makeSigningKeyPem } from '../../src/ledger/tree-head.ts'
import { readKeys } from '../../src/ledger/verify/signed-head.ts'
import type { TrustedKeys } from '../../src/ledger/verify/signed-head.ts'
import { readWitness } from '../../src/ledger/verify/witness-file.ts'
import type { WitnessedLog } from '../../src/ledger/verify/witness-file.ts'
import { FileWitness, witnessLine } from '../../src/ledger/witness.ts'
import { exportLines } from '../../src/ledger/export-log.ts'
import { testDatabase } from '../harness/test-database.ts'

export async function temporaryDirectory(): Promise<string> {
  const directory = await mkdtemp(join(tmpdir(), 'limb-ledger-'))
  afterAll(() => rm(directory, { recursive: true, force: true }))
  return directory
}

export type LedgerDatabase = {
  admin: pg.Pool
  app: pg.Pool
  sealer: pg.Pool
  appUrl: string
}

export async function ledgerDatabase(): Promise<LedgerDatabase> {
  const { adminUrl, appUrl, sealerUrl } = await testDatabase()
  const admin = new pg.Pool({ connectionString: adminUrl, max: 4 })
  const app = new pg.Pool({ connectionString: appUrl, max: 16 })
  const sealer = new pg.Pool({ connectionString: sealerUrl, max: 4 })
  // Backends that a test kills may die while idle in the pool.
  for (const pool of [admin, app, sealer]) pool.on('error', () => undefined)
  afterAll(() => Promise.all([admin.end(), app.end(), sealer.end()]).then(() => undefined))
  return { admin, app, sealer, appUrl }
}

export function makeDeps(directory: string): SealerDeps & { keys: TrustedKeys; directory: string } {
  const signer = headSignerFromPem(makeSigningKeyPem())
  const trustedKeys = { keys: [signer.publicJwk] }
  return {
    signer,
    trustedKeys,
    witness: new FileWitness(directory),
    now: () => new Date(),
    waitForLockMs: 20_000,
    keys: readKeys(JSON.stringify(trustedKeys)),
    directory,
  }
}

export async function insertClinic(db: LedgerDatabase): Promise<string> {
  const id = randomUUID()
  await db.admin.query(`insert into clinic (id, name, time_zone) values ($1, $2, $3)`, [
    id,
    'Riverbend Strength Clinic',
    'Europe/Berlin',
  ])
  return id
}

/** As the service writes them: the event, and the list of whom it discloses. */
const INSERT_EVENT = `
  with event as (
    insert into audit_event (clinic_id, id, actor_principal_id, actor_role, client, purpose, action, outcome, request_id,
                             subject_ids, resource_ids, details)
    select $1, gen_random_uuid(), gen_random_uuid(), 'clinician', 'ehr-bridge', null, 'session.read', 'done',
           $2 || '-' || n, array[gen_random_uuid()], '["session/7"]', jsonb_build_object('writer', $2::text, 'n', n)
    from generate_series(1, $3::int) as n
    returning clinic_id, id, at, subject_ids
  )
  insert into audit_disclosure (clinic_id, subject_id, event_id, at)
  select clinic_id, unnest(subject_ids), id, at from event`

/** `count` events in one transaction, under the role that serves requests. */
export async function appendEvents(db: LedgerDatabase, clinicId: string, count: number, writer = 'w'): Promise<void> {
  const client = await db.app.connect()
  try {
    await inClinic(client, clinicId, () => client.query(INSERT_EVENT, [clinicId, writer, count]))
  } finally {
    client.release()
  }
}

/**
 * The same in one round trip: where writer and verifier share a process, a busy moment between two statements must not
 * be taken for a client that went away.
 */
export async function appendEventsAtOnce(
  pool: pg.Pool,
  clinicId: string,
  count: number,
  writer: string,
): Promise<void> {
  const insert = INSERT_EVENT.replace('$1', `'${clinicId}'`)
    .replaceAll('$2', `'${writer}'`)
    .replace('$3', String(count))
  await pool.query(`begin; select set_config('app.clinic_id', '${clinicId}', true); ${insert}; commit`)
}

export async function insertEvents(
  client: pg.PoolClient,
  clinicId: string,
  count: number,
  writer: string,
): Promise<void> {
  await client.query(INSERT_EVENT, [clinicId, writer, count])
}

export function readerOf(pool: pg.Pool, clinicId: string): ClinicReader {
  return async (work) => {
    const client = await pool.connect()
    try {
      return await inClinic(client, clinicId, () => work(client))
    } finally {
      client.release()
    }
  }
}

export async function exportOf(db: LedgerDatabase, clinicId: string): Promise<string[]> {
  return collect(exportLines(readerOf(db.app, clinicId), clinicId, new Date()))
}

export async function witnessOf(
  deps: { witness: SealerDeps['witness']; keys: TrustedKeys },
  clinicId: string,
): Promise<WitnessedLog> {
  const records = await collect(deps.witness.all(clinicId))
  return readWitness(records.map(witnessLine), deps.keys)
}

export async function collect<T>(items: AsyncIterable<T>): Promise<T[]> {
  const all: T[] = []
  for await (const item of items) all.push(item)
  return all
}

/**
 * Seals all that was committed before. Other test files write to the same cluster, and events wait for the oldest
 * transaction of the cluster: a single seal may find them not yet ripe.
 */
export async function seal(db: LedgerDatabase, clinicId: string, deps: SealerDeps): Promise<Sealed | null> {
  const sealed = await sealNow(db.sealer, clinicId, deps, 20_000)
  if (sealed === null) return null
  const { complete, ...rest } = sealed
  if (!complete) throw new Error('a transaction has kept the events from being sealed for 20 s')
  return rest
}

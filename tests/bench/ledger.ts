/**
 * npm run bench:ledger [-- EVENTS [A_HEAD]]: seals and verifies a log of 1,000,000 events (or so many), a signed head over
 * every 2,000 of them (or so many), as the service does it on an embedded PostgreSQL, and offline from its export. Prints
 * seconds and memory; judges nothing.
 */
import { createReadStream, createWriteStream, mkdtempSync, rmSync, statSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { createInterface } from 'node:readline'
import { Readable } from 'node:stream'
import { pipeline } from 'node:stream/promises'
import { v7 as uuidv7 } from 'uuid'
import { startEmbeddedPostgres } from '../../src/embedded/postgres.ts'
import { openLedger } from '../../src/jobs/open-ledger.ts'
import { exportLines } from '../../src/ledger/export-log.ts'
import type { ClinicReader } from '../../src/ledger/ledger-rows.ts'
import { sealClinic, sealerReader } from '../../src/ledger/sealer.ts'
import { readKeys } from '../../src/ledger/verify/signed-head.ts'
import { verifyExport } from '../../src/ledger/verify/verify-export.ts'
import { readWitness } from '../../src/ledger/verify/witness-file.ts'
import { verifyLiveClinic } from '../../src/ledger/verify-clinic.ts'
import { createClinic, withOwner } from '../../src/store/admin-store.ts'
import { ledgerSql } from '../../src/store/ledger-sql.ts'
import { applyMigrations } from '../../src/store/migrate/apply-migrations.ts'
import { ensureRoles, loginUrl } from '../../src/store/migrate/ensure-roles.ts'
import { withClient } from '../../src/store/migrate/with-client.ts'
import { openDatabase } from '../../src/tenancy/database.ts'
import { withClinic } from '../../src/tenancy/with-clinic.ts'

const EVENTS = Number(process.argv[2] ?? 1_000_000)
const A_HEAD = Number(process.argv[3] ?? 2_000)
const A_BATCH = 20_000
const PASSWORD = 'of-a-benchmark-alone'

const directory = mkdtempSync(join(tmpdir(), 'limb-ledger-bench-'))
const postgres = await startEmbeddedPostgres({})
try {
  await bench()
} finally {
  await postgres.stop()
  rmSync(directory, { recursive: true, force: true })
}

async function bench(): Promise<void> {
  await ensureRoles(postgres.adminUrl, { app: PASSWORD, team: PASSWORD, sealer: PASSWORD })
  await applyMigrations(postgres.adminUrl)
  const clinicId = await withOwner(postgres.adminUrl, (client) =>
    createClinic(client, { name: 'Bench', timeZone: 'Europe/Zurich', issuers: ['https://issuer.example'] }),
  )
  await timed(`${EVENTS} events written`, () => write(clinicId))
  // As a server that has been running has done long ago.
  const tidyUp = () => withClient(postgres.adminUrl, (client) => client.query('vacuum analyze'))
  await tidyUp()

  const config = { NODE_ENV: 'test', DATA_DIR: directory, WITNESS_FILE: join(directory, 'witness') } as const
  const ledger = await openLedger(config, loginUrl(postgres.adminUrl, 'sealer', PASSWORD), () => undefined)
  const db = openDatabase(loginUrl(postgres.adminUrl, 'app', PASSWORD), { poolSize: 2 })
  const read: ClinicReader = (work) => withClinic(db, { clinicId }, (tx) => work(ledgerSql(tx)))
  await timed('sealed', () => sealClinic(ledger.sealerPool, clinicId, { ...ledger.deps, batchSize: A_HEAD }))
  await tidyUp()

  const report = await timed('verified by the service', () =>
    verifyLiveClinic(ledger.sealerPool, sealerReader(ledger.sealerPool, clinicId), clinicId, ledger.deps),
  )
  console.log(`  ${report.verdict}, ${report.entries} entries, ${report.heads} heads`)

  const file = join(directory, 'export.ndjson')
  await timed('exported', () => pipeline(Readable.from(lines(exportLines(read, clinicId, new Date()))), createWriteStream(file))) // prettier-ignore
  console.log(`  ${(statSync(file).size / 1e6).toFixed(0)} MB`)
  const offline = await timed('verified offline', async () => {
    const keys = readKeys(JSON.stringify(ledger.deps.trustedKeys))
    const witness = await readWitness(linesOf(join(directory, 'witness', `${clinicId}.ndjson`)), keys)
    return verifyExport(linesOf(file), { keys, witness })
  })
  console.log(`  ${offline.verdict}, ${offline.entries} entries`)
  await db.close()
  await ledger.close()
}

async function write(clinicId: string): Promise<void> {
  await withClient(postgres.adminUrl, async (client) => {
    for (let done = 0; done < EVENTS; done += A_BATCH)
      await client.query(
        `with event as (
           insert into audit_event (clinic_id, id, actor_principal_id, actor_role, client, action, outcome, request_id,
                                    subject_ids, resource_ids, details)
           select $1, gen_random_uuid(), $2, 'clinician', 'ehr-bridge', 'sessions.read', 'done', gen_random_uuid()::text,
                  array[gen_random_uuid()], jsonb_build_array('session/' || gen_random_uuid()), '{}'
           from generate_series(1, $3::int)
           returning clinic_id, id, at, subject_ids
         )
         insert into audit_disclosure (clinic_id, subject_id, event_id, at)
         select clinic_id, unnest(subject_ids), id, at from event`,
        [clinicId, uuidv7(), Math.min(A_BATCH, EVENTS - done)],
      )
  })
}

async function* lines(source: AsyncIterable<string>): AsyncGenerator<string> {
  for await (const line of source) yield `${line}\n`
}

function linesOf(path: string): AsyncIterable<string> {
  return createInterface({ input: createReadStream(path, 'utf8'), crlfDelay: Infinity })
}

async function timed<T>(what: string, work: () => Promise<T>): Promise<T> {
  const start = performance.now()
  const before = process.cpuUsage()
  const result = await work()
  const seconds = (performance.now() - start) / 1000
  const { user, system } = process.cpuUsage(before)
  const busy = `busy ${((user + system) / 1e6).toFixed(1)} s, resident ${(process.memoryUsage().rss / 1e6).toFixed(0)} MB`
  console.log(`${what}: ${seconds.toFixed(1)} s (${busy})`)
  return result
}

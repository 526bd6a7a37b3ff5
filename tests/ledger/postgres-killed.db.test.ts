/** PostgreSQL itself is killed while it is written to and sealed: what was acknowledged is there, once, and so is its event. */
import { chmodSync, mkdtempSync, rmSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { setTimeout as delay } from 'node:timers/promises'
import { v7 as uuidv7 } from 'uuid'
import { afterAll, expect, it } from 'vitest'
import { startEmbeddedPostgres, stopEmbeddedPostgres } from '../../src/embedded/postgres.ts'
import { refuseToStartOnAlarm } from '../../src/jobs/open-ledger.ts'
import { sealPeriodically } from '../../src/jobs/seal-periodically.ts'
import { applyMigrations } from '../../src/store/migrate/apply-migrations.ts'
import { ensureRoles, loginUrl } from '../../src/store/migrate/ensure-roles.ts'
import { withClient } from '../../src/store/migrate/with-client.ts'
import { freshClinic, makeTestService, type FreshClinic } from '../harness/clinic.ts'
import { makeTestLedger, type TestLedger } from '../harness/ledger.ts'
import { subjectBody } from '../harness/samples.ts'
import type { TestDatabase } from '../harness/test-database.ts'

const ROUNDS = 3
const AT_ONCE = 6
const directory = mkdtempSync(join(tmpdir(), 'limb-ledger-killed-'))
chmodSync(directory, 0o711)
afterAll(async () => {
  await stopEmbeddedPostgres(directory)
  rmSync(directory, { recursive: true, force: true })
})

/** A server of its own, since every other test shares one. */
async function started(): Promise<TestDatabase & { readonly pid: number }> {
  const { adminUrl, pid } = await startEmbeddedPostgres({ directory })
  const password = uuidv7()
  await ensureRoles(adminUrl, { app: password, team: password, sealer: password })
  await applyMigrations(adminUrl)
  const as = (role: 'app' | 'team' | 'sealer') => loginUrl(adminUrl, role, password)
  return { adminUrl, appUrl: as('app'), teamUrl: as('team'), sealerUrl: as('sealer'), pid }
}

interface Sent {
  readonly number: string
  readonly key: string
  /** Of the answer; null: there was none but a refusal for now. */
  readonly requestId: string | null
}

it(
  'what was acknowledged before each kill is there, once, with its event; nothing is half there; the log verifies',
  { timeout: 240_000 },
  async () => {
    let database = await started()
    const witness = await makeTestLedger(database)
    let clinic: FreshClinic | null = null
    const acknowledged: Sent[] = []
    for (let round = 0; round < ROUNDS; round++) {
      const service = await makeTestService(database)
      const ledger: TestLedger = { ...(await makeTestLedger(database)), deps: witness.deps }
      // What the witness has seen was on the database's disk before: no kill can leave the database behind it.
      await refuseToStartOnAlarm(ledger)
      clinic ??= await freshClinic(service)
      const { clinicId, subs } = clinic
      const api = service.api(await service.mint({ sub: subs.owner, clinic: clinicId }))
      const sealer = sealPeriodically(ledger, 20, { error: () => undefined })

      const sent: Sent[] = []
      let killed = false
      const writer = async (): Promise<void> => {
        while (!killed) {
          const [number, key] = [uuidv7(), uuidv7()]
          const answer = await api.post('/v1/subjects', subjectBody(number), { key })
          expect([201, 503], answer.text).toContain(answer.status)
          sent.push({ number, key, requestId: answer.status === 201 ? (answer.headers['x-request-id'] ?? '') : null })
        }
      }
      const writers = Array.from({ length: AT_ONCE }, writer)
      await delay(1_500 + 333 * round)
      process.kill(database.pid, 'SIGKILL')
      killed = true
      await Promise.all(writers)
      await sealer.stop()
      acknowledged.push(...sent.filter(({ requestId }) => requestId !== null))

      database = await started()
      const again = await makeTestService(database)
      const later = again.api(await again.mint({ sub: subs.owner, clinic: clinicId }))
      for (const { number, key } of sent.filter(({ requestId }) => requestId === null))
        expect((await later.post('/v1/subjects', subjectBody(number), { key })).status).toBe(201)
      await withClient(database.adminUrl, async (client) => {
        const { rows } = await client.query<{ number: string; times: number; events: number }>(
          `select n.number, (select count(*)::int from subject_identifier i where i.value = n.number) as times,
                (select count(*)::int from audit_event e where e.request_id = n.request) as events
         from unnest($1::text[], $2::text[]) as n (number, request)`,
          [sent.map(({ number }) => number), sent.map(({ requestId }) => requestId ?? 'none')],
        )
        const wanted = (number: string) => (sent.some((one) => one.number === number && one.requestId !== null) ? 1 : 0)
        expect(rows.filter(({ number, times, events }) => times !== 1 || events !== wanted(number))).toEqual([])
        const halves = await client.query(
          `select s.id from subject s where not exists (select from subject_version v where v.subject_id = s.id)
           or not exists (select from audit_event e where s.id = any (e.subject_ids))`,
        )
        expect(halves.rows).toEqual([])
      })
    }
    expect(acknowledged.length).toBeGreaterThan(30)
    const ledger: TestLedger = { ...(await makeTestLedger(database)), deps: witness.deps }
    const last = await makeTestService(database, { ledger })
    const owner = last.api(await last.mint({ sub: clinic!.subs.owner, clinic: clinic!.clinicId }))
    expect((await owner.post('/v1/audit/seal', {})).body).toMatchObject({ epoch: 1, complete: true })
    const verified = await owner.post<string>('/v1/audit/verification', {})
    const { report } = JSON.parse(verified.body.trimEnd().split('\n').at(-1)!) as { report: { entries: number } }
    expect(report).toMatchObject({ verdict: 'intact', firstBad: null, eventsWithoutLeaf: [], eventsShownOtherwise: [] })
    expect(report.entries).toBeGreaterThan(acknowledged.length)
    console.log(`${ROUNDS} kills: ${acknowledged.length} acknowledged and there, ${report.entries} entries intact`)
  },
)

import { spawn } from 'node:child_process'
import { rename, rm, writeFile } from 'node:fs/promises'
import { fileURLToPath } from 'node:url'
import { setTimeout as delay } from 'node:timers/promises'
import { afterEach, describe, expect, it, vi } from 'vitest'
import { run } from '../../src/cli/limb-ledger.ts'
import { refuseToStartOnAlarm } from '../../src/jobs/open-ledger.ts'
import { sealPeriodically, type RunningSealer } from '../../src/jobs/seal-periodically.ts'
import type { LedgerAccess } from '../../src/ledger/access.ts'
import type { WitnessRecord } from '../../src/ledger/witness.ts'
import { withClient } from '../../src/store/migrate/with-client.ts'
import { freshClinic, ISSUER, makeTestService, type FreshClinic } from '../harness/clinic.ts'
import { makeTestLedger } from '../harness/ledger.ts'
import { createSubject } from '../harness/samples.ts'
import { testDatabase } from '../harness/test-database.ts'

const database = await testDatabase()
const ledger = await makeTestLedger(database)
const service = await makeTestService(database, { ledger })
const main = fileURLToPath(new URL('../../src/main.ts', import.meta.url))

const running: RunningSealer[] = []
afterEach(async () => {
  await Promise.all(running.splice(0).map((sealer) => sealer.stop()))
  vi.unstubAllEnvs()
})

function start(intervalMs = 50, of: LedgerAccess = ledger) {
  const said: { facts: Record<string, unknown>; sentence: string }[] = []
  const log = { error: (facts: object, sentence: string) => void said.push({ facts: { ...facts }, sentence }) }
  const sealer = sealPeriodically(of, intervalMs, log)
  running.push(sealer)
  return { sealer, said }
}

const superuser = <Row = Record<string, unknown>>(sql: string, values: unknown[]): Promise<Row[]> =>
  withClient(database.adminUrl, async (client) => (await client.query(sql, values)).rows as Row[])

async function unsealed(clinicId: string): Promise<number> {
  const [row] = await superuser<{ n: number }>(
    `select count(*)::int as n from audit_event e where clinic_id = $1
     and not exists (select from audit_leaf l where l.clinic_id = e.clinic_id and l.event_id = e.id)`,
    [clinicId],
  )
  return row!.n
}

const heads = async (clinicId: string): Promise<number> =>
  (await superuser<{ n: number }>('select count(*)::int as n from tree_head where clinic_id = $1', [clinicId]))[0]!.n

async function untilSealed(clinicId: string): Promise<void> {
  while ((await unsealed(clinicId)) > 0) await delay(50)
}

/** Waits until they can be sealed: a transaction of another test, anywhere in the cluster, may hold them up. */
async function ripeEvents(clinicId: string): Promise<string[]> {
  for (;;) {
    const rows = await superuser<{ id: string; ripe: boolean }>(
      `select id::text, xid < pg_snapshot_xmin(pg_current_snapshot()) as ripe from audit_event where clinic_id = $1`,
      [clinicId],
    )
    if (rows.length > 0 && rows.every(({ ripe }) => ripe)) return rows.map(({ id }) => id)
    await delay(50)
  }
}

async function busyClinic(subjects = 3): Promise<FreshClinic> {
  const clinic = await freshClinic(service)
  const api = service.api(clinic.tokens.owner)
  for (let n = 0; n < subjects; n++) await createSubject(api, `S-${n}`)
  return clinic
}

/** As a backup of before would do: the last entries and their heads are gone, the witness has seen them. */
async function rollBack(clinicId: string): Promise<void> {
  await superuser('delete from tree_head where clinic_id = $1 and size > 0', [clinicId])
  await superuser('delete from audit_leaf where clinic_id = $1 and seq > 4', [clinicId])
  await superuser('delete from audit_disclosure where clinic_id = $1', [clinicId])
  await superuser(
    `delete from audit_event e where clinic_id = $1
     and not exists (select from audit_leaf l where l.clinic_id = e.clinic_id and l.event_id = e.id)`,
    [clinicId],
  )
}

describe('the sealer', () => {
  it('seals what comes, in every clinic, without being asked', async () => {
    const clinics = [await busyClinic(), await busyClinic()]
    start()
    for (const { clinicId } of clinics) await untilSealed(clinicId)
    await createSubject(service.api(clinics[0]!.tokens.owner), 'later')
    await untilSealed(clinics[0]!.clinicId)
  })

  it('does not let one clinic wait for another whose seal takes long', async () => {
    // In the order of their ids, so the slow one comes first.
    const [slow, other] = [await busyClinic(), await busyClinic()]
    let release = () => {}
    const held = new Promise<void>((resolve) => (release = resolve))
    const witness = new Proxy(ledger.deps.witness, {
      get: (target, name) =>
        name !== 'append'
          ? (Reflect.get(target, name) as () => unknown).bind(target)
          : async (record: WitnessRecord) => {
              if (record.head.clinicId === slow.clinicId) await held
              return target.append(record)
            },
    })
    // A look ends with its slowest seal: what is not ripe at the first one would wait for the next.
    for (const { clinicId } of [slow, other]) await ripeEvents(clinicId)
    start(50, { ...ledger, deps: { ...ledger.deps, witness } })
    await untilSealed(other.clinicId)
    expect(await heads(slow.clinicId)).toBe(0)
    release()
    await untilSealed(slow.clinicId)
  })

  it('leaves a quiet clinic alone: no head without a new entry', async () => {
    const [quiet, busy] = [await busyClinic(), await busyClinic()]
    start()
    await untilSealed(quiet.clinicId)
    const before = await heads(quiet.clinicId)
    for (let n = 0; n < 3; n++) {
      await createSubject(service.api(busy.tokens.owner), `more-${n}`)
      await untilSealed(busy.clinicId)
    }
    expect(await heads(quiet.clinicId)).toBe(before)
  })

  it('leaves nothing open when it is stopped in order', async () => {
    const { sealer } = start(60_000)
    const { clinicId } = await busyClinic()
    const events = await ripeEvents(clinicId)
    await sealer.stop()
    const sealed = await superuser<{ id: string }>('select event_id::text as id from audit_leaf where clinic_id = $1', [clinicId]) // prettier-ignore
    expect(sealed.map(({ id }) => id).sort()).toEqual(events.sort())
  })

  it('raises the alarm of one clinic once, seals nothing more there, and goes on with the others', async () => {
    const [robbed, other] = [await busyClinic(), await busyClinic()]
    const { said } = start()
    await untilSealed(robbed.clinicId)
    await running.splice(0)[0]!.stop()
    await rollBack(robbed.clinicId)
    await createSubject(service.api(robbed.tokens.owner), 'after')
    await createSubject(service.api(other.tokens.owner), 'after')
    const again = start()
    await untilSealed(other.clinicId)
    await delay(300)
    expect(await unsealed(robbed.clinicId)).toBeGreaterThan(0)
    expect(said).toEqual([])
    expect(again.said).toHaveLength(1)
    expect(again.said[0]!.facts).toMatchObject({ clinicId: robbed.clinicId, alarm: 'database_behind_witness' })
    expect(again.said[0]!.sentence).toContain('LEDGER ALARM')
    const owner = service.api(robbed.tokens.owner)
    const sealed = await owner.post('/v1/audit/seal', {})
    expect([sealed.status, sealed.body.code]).toEqual([503, 'ledger_alarm'])
    expect(sealed.body.alarm).toEqual({ code: 'database_behind_witness', epoch: 1, sequence: 5 })
    await restored(robbed.clinicId)
  })
})

describe('while the witness cannot be had', () => {
  it('requests are answered, nothing is sealed, and whoever asks is told; afterwards everything is sealed', async () => {
    const { clinicId, tokens } = await busyClinic()
    const owner = service.api(tokens.owner)
    expect((await owner.post('/v1/audit/seal', {})).status).toBe(200)
    const before = await heads(clinicId)
    const { WITNESS_FILE: directory } = ledger.environment
    await rename(directory, `${directory}.away`)
    // Where a directory should be, a file: as full, read-only or unmounted as storage can be.
    await writeFile(directory, '')
    const { said } = start()
    await createSubject(owner, 'meanwhile')
    for (const url of ['/v1/audit/seal', '/v1/audit/verification']) {
      const answer = await owner.post(url, {})
      expect([answer.status, answer.body.code, answer.headers['retry-after']]).toEqual([503, 'witness_unavailable', '5']) // prettier-ignore
      expect(answer.text).not.toContain(directory)
    }
    await vi.waitFor(() => expect(said.length).toBeGreaterThan(0), { timeout: 10_000 })
    expect(said[0]).toMatchObject({ facts: { clinicId }, sentence: 'a seal did not come about; it is tried again' })
    await expect(refuseToStartOnAlarm(ledger)).rejects.toThrow(
      /The witness of the audit log cannot be read \(ENOTDIR\)/,
    )
    expect([await heads(clinicId), (await unsealed(clinicId)) > 0]).toEqual([before, true])
    await rm(directory)
    await rename(`${directory}.away`, directory)
    await untilSealed(clinicId)
  })
})

async function restored(clinicId: string): Promise<void> {
  vi.stubEnv('NODE_ENV', 'test')
  vi.stubEnv('SEALER_DATABASE_URL', database.sealerUrl)
  for (const [name, value] of Object.entries(ledger.environment)) vi.stubEnv(name, value)
  const out = vi.spyOn(console, 'log').mockImplementation(() => undefined)
  const code = await run(['open-epoch', '--clinic', clinicId, '--reason', 'restored_from_backup'])
  expect(code).toBe(0)
  expect(JSON.parse(out.mock.calls[0]![0] as string)).toEqual({ clinicId, epoch: 2, reason: 'restored_from_backup' })
  out.mockRestore()
}

describe('at start', () => {
  it('a database behind its witness is an alarm in words; declared as restored, its log goes on and says what was lost', async () => {
    const clinic = await busyClinic()
    const { sealer } = start()
    await untilSealed(clinic.clinicId)
    await sealer.stop()
    await expect(refuseToStartOnAlarm(ledger)).resolves.toBeUndefined()
    await rollBack(clinic.clinicId)
    await expect(refuseToStartOnAlarm(ledger)).rejects.toThrow(
      new RegExp(`LEDGER ALARM. The database holds less of the audit log than the witness has seen. Clinic ${clinic.clinicId}, epoch 1, first affected sequence 5`), // prettier-ignore
    )
    await restored(clinic.clinicId)
    await expect(refuseToStartOnAlarm(ledger)).resolves.toBeUndefined()

    const owner = service.api(clinic.tokens.owner)
    await createSubject(owner, 'after')
    await owner.post('/v1/audit/seal', {})
    const answer = await owner.post<string>('/v1/audit/verification', {})
    const { report } = JSON.parse(answer.body.trimEnd().split('\n').at(-1)!) as { report: Record<string, unknown> }
    expect(report).toMatchObject({
      verdict: 'intact_with_declared_loss',
      firstBad: null,
      declaredLosses: [{ declaredInEpoch: 2, reason: 'restored_from_backup', kept: { epoch: 1, size: 4 } }],
    })
  })

  it('a clinic that only the witness knows is an alarm, and so is a witness that is gone', async () => {
    const nobody = '01a211e5-4feb-70a8-a310-4dbf8a987363'
    const clinic = await busyClinic()
    const { sealer } = start()
    await untilSealed(clinic.clinicId)
    await sealer.stop()
    const file = ledger.witnessFile(clinic.clinicId)
    await rename(file, ledger.witnessFile(nobody))
    await expect(refuseToStartOnAlarm(ledger)).rejects.toThrow(/does not know this clinic at all/)
    await rename(ledger.witnessFile(nobody), `${file}.aside`)
    await expect(refuseToStartOnAlarm(ledger)).rejects.toThrow(/The witness holds less than the database/)
    await rename(`${file}.aside`, file)
    await expect(refuseToStartOnAlarm(ledger)).resolves.toBeUndefined()
  })
})

describe('the process', () => {
  const begin = (env: Record<string, string>) => {
    const child = spawn(process.execPath, [main], {
      env: {
        PATH: process.env['PATH'],
        NODE_ENV: 'test',
        PORT: '0',
        DATA_DIR: ledger.directory,
        DATABASE_URL: database.appUrl,
        SEALER_DATABASE_URL: database.sealerUrl,
        ISSUERS: JSON.stringify([{ issuer: ISSUER, jwksUrl: 'https://issuer.test.example/jwks' }]),
        ...ledger.environment,
        ...env,
      },
      stdio: ['ignore', 'pipe', 'pipe'],
    })
    let said = ''
    child.stdout.on('data', (chunk: Buffer) => (said += chunk.toString()))
    child.stderr.on('data', (chunk: Buffer) => (said += chunk.toString()))
    const ended = new Promise<number | null>((settle) => child.once('close', (code) => settle(code)))
    return { child, said: () => said, ended }
  }

  it.each(['all', 'sealer'])(
    'of role %s seals beside the requests of others, and ends in order',
    async (role) => {
      const clinic = await busyClinic()
      const { child, ended, said } = begin({ ROLE: role })
      await Promise.race([
        untilSealed(clinic.clinicId),
        ended.then(() => Promise.reject(new Error(`it ended: ${said()}`))),
      ])
      child.kill('SIGTERM')
      expect(await ended, said()).toBe(0)
    },
    60_000,
  )

  it('does not start on an alarm, and says why in words', async () => {
    const clinic = await busyClinic()
    const { sealer } = start()
    await untilSealed(clinic.clinicId)
    await sealer.stop()
    await rollBack(clinic.clinicId)
    for (const role of ['all', 'sealer']) {
      const { ended, said } = begin({ ROLE: role })
      expect(await ended).toBe(1)
      expect(said()).toContain('limb-ledger does not start: LEDGER ALARM. The database holds less')
      expect(said()).not.toMatch(/ {4}at |postgresql:\/\//)
    }
    await restored(clinic.clinicId)
  }, 60_000)
})

import { randomUUID } from 'node:crypto'
import { setTimeout as delay } from 'node:timers/promises'
import pg from 'pg'
import { describe, expect, it } from 'vitest'
import { inClinic } from '../../src/ledger/ledger-rows.ts'
import { checkAgainstWitness, openEpochAfterRestore, sealClinic, sealNow } from '../../src/ledger/sealer.ts'
import { verifyLiveClinic } from '../../src/ledger/verify-clinic.ts'
import type { Witness } from '../../src/ledger/witness.ts'
import {
  appendEvents,
  appendEventsAtOnce,
  exportOf,
  insertClinic,
  insertEvents,
  ledgerDatabase,
  makeDeps,
  readerOf,
  seal,
  temporaryDirectory,
  witnessOf,
} from './ledger-fixture.ts'

const db = await ledgerDatabase()
const deps = makeDeps(await temporaryDirectory())

const verdictOf = (clinicId: string) => verifyLiveClinic(db.sealer, readerOf(db.app, clinicId), clinicId, deps)

describe('sealing', () => {
  it('numbers events gaplessly in the order of their transactions and signs a head over them', async () => {
    const clinicId = await insertClinic(db)
    await appendEvents(db, clinicId, 3, 'first')
    await appendEvents(db, clinicId, 4, 'second')
    const sealed = await seal(db, clinicId, deps)
    expect(sealed).toMatchObject({ epoch: 1, size: 7, added: 7 })

    const { rows } = await db.admin.query<{ seq: string; request_id: string }>(
      `select l.seq, e.request_id from audit_leaf l join audit_event e on e.clinic_id = l.clinic_id and e.id = l.event_id
       where l.clinic_id = $1 order by l.seq`,
      [clinicId],
    )
    expect(rows.map(({ seq, request_id }) => `${seq} ${request_id}`)).toEqual([
      '1 first-1',
      '2 first-2',
      '3 first-3',
      '4 second-1',
      '5 second-2',
      '6 second-3',
      '7 second-4',
    ])
    expect(await verdictOf(clinicId)).toMatchObject({ verdict: 'intact', entries: 7, heads: 2, firstBad: null })
  })

  it('does nothing, and signs nothing, when there is nothing new', async () => {
    const clinicId = await insertClinic(db)
    await appendEvents(db, clinicId, 1)
    const first = await seal(db, clinicId, deps)
    const second = await seal(db, clinicId, deps)
    expect(second).toEqual({ ...first, added: 0 })
  })

  it('opens the log of a clinic without events with a signed head of size 0', async () => {
    const clinicId = await insertClinic(db)
    expect(await seal(db, clinicId, deps)).toMatchObject({ epoch: 1, size: 0, added: 0 })
    expect(await verdictOf(clinicId)).toMatchObject({ verdict: 'intact', entries: 0, heads: 1 })
  })

  it('waits with every event that a transaction still running could come before', async () => {
    const clinicId = await insertClinic(db)
    const slow = await db.app.connect()
    await slow.query('begin')
    await slow.query(`select set_config('app.clinic_id', $1, true)`, [clinicId])
    await insertEvents(slow, clinicId, 1, 'slow')
    await appendEvents(db, clinicId, 2, 'fast')
    expect(await sealNow(db.sealer, clinicId, deps, 100)).toMatchObject({ size: 0, complete: false })

    await slow.query('commit')
    slow.release()
    expect(await seal(db, clinicId, deps)).toMatchObject({ size: 3 })
    const lines = await exportOf(db, clinicId)
    const order = lines.flatMap((line) => /"requestId\\":\\"([a-z]+-\d)/.exec(line)?.[1] ?? [])
    expect(order).toEqual(['slow-1', 'fast-1', 'fast-2'])
  })

  it('leaves out what was rolled back', async () => {
    const clinicId = await insertClinic(db)
    const client = await db.app.connect()
    await expect(
      inClinic(client, clinicId, async () => {
        await insertEvents(client, clinicId, 5, 'undone')
        throw new Error('the effect failed')
      }),
    ).rejects.toThrow('the effect failed')
    client.release()
    await appendEvents(db, clinicId, 1, 'kept')
    expect(await seal(db, clinicId, deps)).toMatchObject({ size: 1 })
  })

  it('goes on batch by batch, one head each, when there is much to seal', async () => {
    const clinicId = await insertClinic(db)
    await appendEvents(db, clinicId, 23)
    await appendEvents(db, clinicId, 2)
    expect(await seal(db, clinicId, { ...deps, batchSize: 10 })).toMatchObject({ size: 25, added: 25 })
    const report = await verdictOf(clinicId)
    expect(report).toMatchObject({ verdict: 'intact', entries: 25, heads: 4 })
  })

  it('seals a number that binary64 cannot hold as text instead of stopping the log', async () => {
    const clinicId = await insertClinic(db)
    await appendEvents(db, clinicId, 1)
    await db.admin.query(
      `insert into audit_event (clinic_id, id, action, outcome, request_id, details)
       values ($1, $2, 'session.read', 'done', 'r', '{"n": 1e999}')`,
      [clinicId, randomUUID()],
    )
    expect(await seal(db, clinicId, deps)).toMatchObject({ size: 2 })
    expect(await verdictOf(clinicId)).toMatchObject({ verdict: 'intact' })
  })

  it('keeps clinics apart: each has its own numbers, tree and witness file', async () => {
    const [one, two] = [await insertClinic(db), await insertClinic(db)]
    await appendEvents(db, one, 2)
    await appendEvents(db, two, 5)
    expect(await seal(db, one, deps)).toMatchObject({ size: 2 })
    expect(await seal(db, two, deps)).toMatchObject({ size: 5 })
    expect((await witnessOf(deps, one)).last.size).toBe(2)
  })

  it('refuses to sign with a key that the readers are not told to trust', async () => {
    const clinicId = await insertClinic(db)
    const stranger = makeDeps(deps.directory)
    await expect(seal(db, clinicId, { ...deps, signer: stranger.signer })).rejects.toMatchObject({
      code: 'head_signature_unknown',
    })
    expect(await deps.witness.last(clinicId)).toBeNull()
  })

  it('answers null at once while another sealer holds the clinic', async () => {
    const clinicId = await insertClinic(db)
    await appendEvents(db, clinicId, 1)
    let release = () => {}
    const held = new Promise<void>((resolve) => (release = resolve))
    let reached = () => {}
    const atWitness = new Promise<void>((resolve) => (reached = resolve))
    const slowWitness = witnessAround(deps.witness, async (append) => {
      reached()
      await held
      return append()
    })
    const first = seal(db, clinicId, { ...deps, witness: slowWitness })
    await atWitness
    expect(await sealClinic(db.sealer, clinicId, { ...deps, waitForLockMs: 0 })).toBeNull()
    release()
    expect(await first).toMatchObject({ size: 1 })
  })
})

describe('64 writers with 500 events each, sealed while they write', () => {
  it('leave no gap, no fork and no false alarm', { timeout: 120_000 }, async () => {
    const clinicId = await insertClinic(db)
    const pool = new pg.Pool({ connectionString: db.appUrl, max: 64 })
    const writers = Array.from({ length: 64 }, async (_, writer) => {
      // Transactions of 1 to 20 events, so that they begin and end in all orders.
      for (let written = 0, size = 1 + (writer % 20); written < 500; written += size) {
        await appendEventsAtOnce(pool, clinicId, Math.min(size, 500 - written), `w${writer}`)
      }
    })
    let writing = true
    const done = Promise.all(writers).finally(() => {
      writing = false
      return pool.end()
    })
    const verdicts: string[] = []
    const sealers = [1, 2].map(async () => {
      while (writing) {
        await sealClinic(db.sealer, clinicId, { ...deps, batchSize: 700 })
        await delay(50)
      }
    })
    const verifier = (async () => {
      while (writing) {
        if ((await deps.witness.last(clinicId)) === null) continue
        const { verdict } = await verifyLiveClinic(db.sealer, readerOf(db.app, clinicId), clinicId, deps)
        verdicts.push(verdict)
        await delay(1_000)
      }
    })()
    await Promise.all([done, ...sealers, verifier])

    expect(await seal(db, clinicId, deps)).toMatchObject({ size: 32_000 })
    expect(verdicts.length).toBeGreaterThan(0)
    expect(new Set(verdicts)).toEqual(new Set(['intact']))
    expect(await verdictOf(clinicId)).toMatchObject({ verdict: 'intact', entries: 32_000, eventsWithoutLeaf: [] })
    const { rows } = await db.admin.query<{ least: string; greatest: string; leaves: string; events: string }>(
      `select min(seq) as least, max(seq) as greatest, count(*) as leaves, count(distinct event_id) as events
       from audit_leaf where clinic_id = $1`,
      [clinicId],
    )
    expect(rows).toEqual([{ least: '1', greatest: '32000', leaves: '32000', events: '32000' }])
  })
})

describe('a crash in the middle of sealing', () => {
  it('after the leaves, before the witness: the next run signs a head over the leaves that are there', async () => {
    const clinicId = await insertClinic(db)
    await appendEvents(db, clinicId, 3)
    await seal(db, clinicId, deps)
    await appendEvents(db, clinicId, 4)
    const dead = witnessAround(deps.witness, () => Promise.reject(new Error('the disk is gone')))
    await expect(seal(db, clinicId, { ...deps, witness: dead })).rejects.toThrow('the disk is gone')
    expect(await leafCount(clinicId)).toBe(7)

    await appendEvents(db, clinicId, 2)
    expect(await seal(db, clinicId, deps)).toMatchObject({ size: 9 })
    // One head over both, or one each: the new events may wait for a transaction elsewhere in the cluster.
    expect(await verdictOf(clinicId)).toMatchObject({ verdict: 'intact', entries: 9 })
  })

  it('after the leaves, with nothing new since: the next run still signs their head', async () => {
    const clinicId = await insertClinic(db)
    await seal(db, clinicId, deps)
    await appendEvents(db, clinicId, 4)
    const dead = witnessAround(deps.witness, () => Promise.reject(new Error('the disk is gone')))
    await expect(seal(db, clinicId, { ...deps, witness: dead })).rejects.toThrow()
    expect(await seal(db, clinicId, deps)).toMatchObject({ size: 4, added: 4 })
  })

  it('after the witness, before the database: the next run stores the head that was witnessed, not another', async () => {
    const clinicId = await insertClinic(db)
    await appendEvents(db, clinicId, 3)
    await seal(db, clinicId, deps)
    await appendEvents(db, clinicId, 4)
    const lastGasp = witnessAround(deps.witness, async (append) => {
      await append()
      throw new Error('killed after the sync')
    })
    await expect(seal(db, clinicId, { ...deps, witness: lastGasp })).rejects.toThrow('killed')
    const witnessed = await deps.witness.last(clinicId)
    expect(witnessed?.head.size).toBe(7)

    expect(await seal(db, clinicId, deps)).toMatchObject({ size: 7, jws: witnessed?.jws })
    expect(await verdictOf(clinicId)).toMatchObject({ verdict: 'intact', entries: 7, heads: 3 })
  })

  it('between witness and database is no alarm for somebody who verifies just then', async () => {
    const clinicId = await insertClinic(db)
    await appendEvents(db, clinicId, 3)
    await seal(db, clinicId, deps)
    await appendEvents(db, clinicId, 4)
    const lastGasp = witnessAround(deps.witness, async (append) => {
      await append()
      throw new Error('killed after the sync')
    })
    await expect(seal(db, clinicId, { ...deps, witness: lastGasp })).rejects.toThrow('killed')
    expect(await verdictOf(clinicId)).toMatchObject({ verdict: 'intact', entries: 7 })
  })

  it('of the sealer’s backend frees the clinic for the next sealer', async () => {
    const clinicId = await insertClinic(db)
    await appendEvents(db, clinicId, 2)
    const killed = witnessAround(deps.witness, async (append) => {
      await db.admin.query(
        `select pg_terminate_backend(pid) from pg_stat_activity
         where usename = 'limb_ledger_sealer' and datname = current_database()`,
      )
      return append()
    })
    await expect(seal(db, clinicId, { ...deps, witness: killed })).rejects.toThrow()
    expect(await seal(db, clinicId, deps)).toMatchObject({ size: 2 })
    expect(await verdictOf(clinicId)).toMatchObject({ verdict: 'intact' })
  })

  it('of a sealer that comes back late cannot put an old head behind a newer one', async () => {
    const clinicId = await insertClinic(db)
    await appendEvents(db, clinicId, 2)
    await seal(db, clinicId, deps)
    await appendEvents(db, clinicId, 3)
    const late = witnessAround(deps.witness, async (append) => {
      // Its connection dies and another sealer goes on, while it still means to write.
      await db.admin.query(
        `select pg_terminate_backend(pid) from pg_stat_activity
         where usename = 'limb_ledger_sealer' and datname = current_database()`,
      )
      await appendEvents(db, clinicId, 1)
      await seal(db, clinicId, deps)
      return append()
    })
    await expect(seal(db, clinicId, { ...deps, witness: late })).rejects.toThrow('not name the head before')
    expect(await verdictOf(clinicId)).toMatchObject({ verdict: 'intact', entries: 6 })
  })
})

describe('a database that was rolled back', () => {
  it('is an alarm naming the first lost sequence, and nothing is sealed over it', async () => {
    const clinicId = await insertClinic(db)
    await appendEvents(db, clinicId, 5)
    await seal(db, clinicId, deps)
    await appendEvents(db, clinicId, 4)
    await seal(db, clinicId, deps)
    await rollBackTo(clinicId, 5)
    await appendEvents(db, clinicId, 10)

    const expected = { code: 'database_behind_witness', epoch: 1, sequence: 6 }
    await expect(checkAgainstWitness(db.sealer, clinicId, deps)).rejects.toMatchObject(expected)
    await expect(seal(db, clinicId, deps)).rejects.toMatchObject(expected)
    expect(await leafCount(clinicId)).toBe(5)
    const report = await verdictOf(clinicId)
    expect(report).toMatchObject({ verdict: 'broken', firstBad: { epoch: 1, sequence: 6, reason: 'entry_missing' } })
  })

  it('goes on in a new signed epoch that declares the loss for good', async () => {
    const clinicId = await insertClinic(db)
    await appendEvents(db, clinicId, 5)
    await seal(db, clinicId, deps)
    await appendEvents(db, clinicId, 4)
    await seal(db, clinicId, deps)
    await rollBackTo(clinicId, 5)
    await appendEvents(db, clinicId, 2)

    await openEpochAfterRestore(db.sealer, clinicId, 'restored_from_backup', deps)
    expect(await seal(db, clinicId, deps)).toMatchObject({ epoch: 2, size: 2 })
    const report = await verdictOf(clinicId)
    expect(report).toMatchObject({
      verdict: 'intact_with_declared_loss',
      entries: 7,
      epochs: [
        { epoch: 1, size: 5 },
        { epoch: 2, size: 2 },
      ],
      declaredLosses: [
        {
          declaredInEpoch: 2,
          reason: 'restored_from_backup',
          kept: { epoch: 1, size: 5 },
          witnessed: { epoch: 1, size: 9 },
        },
      ],
    })
  })

  it('to nothing at all is an alarm from the first sequence on', async () => {
    const clinicId = await insertClinic(db)
    await appendEvents(db, clinicId, 3)
    await seal(db, clinicId, deps)
    await rollBackTo(clinicId, 0)
    await db.admin.query(`delete from tree_head where clinic_id = $1`, [clinicId])
    await expect(seal(db, clinicId, deps)).rejects.toMatchObject({
      code: 'database_behind_witness',
      sequence: 1,
    })
  })

  it('across two restores still verifies, each loss declared', async () => {
    const clinicId = await insertClinic(db)
    await appendEvents(db, clinicId, 6)
    await seal(db, clinicId, deps)
    await rollBackTo(clinicId, 4)
    await openEpochAfterRestore(db.sealer, clinicId, 'restored_from_backup', deps)
    await appendEvents(db, clinicId, 3)
    await seal(db, clinicId, deps)
    // The second restore takes an even older backup: of epoch 2 nothing is left.
    await db.admin.query(`delete from tree_head where clinic_id = $1 and epoch = 2`, [clinicId])
    await db.admin.query(`delete from audit_leaf where clinic_id = $1 and epoch = 2`, [clinicId])
    await openEpochAfterRestore(db.sealer, clinicId, 'restored_from_backup', deps)
    expect(await seal(db, clinicId, deps)).toMatchObject({ epoch: 3 })
    const report = await verdictOf(clinicId)
    expect(report).toMatchObject({ verdict: 'intact_with_declared_loss', firstBad: null })
    expect(report.declaredLosses.map(({ kept, witnessed }) => [kept.size, witnessed.epoch, witnessed.size])).toEqual([
      [4, 2, 3],
    ])
  })

  it('and moved by dump and restore: events from the future of another cluster are sealed, not left waiting', async () => {
    const clinicId = await insertClinic(db)
    await appendEvents(db, clinicId, 2)
    await seal(db, clinicId, deps)
    await appendEvents(db, clinicId, 3)
    await db.admin.query(
      `update audit_event set xid = (xid::text::bigint + 1000000000)::text::xid8 where clinic_id = $1`,
      [clinicId],
    )
    await appendEvents(db, clinicId, 2)
    await openEpochAfterRestore(db.sealer, clinicId, 'moved_to_new_database', deps)
    expect(await seal(db, clinicId, deps)).toMatchObject({ epoch: 2, size: 5 })
    await appendEvents(db, clinicId, 1)
    expect(await seal(db, clinicId, deps)).toMatchObject({ epoch: 2, size: 6 })
    expect(await verdictOf(clinicId)).toMatchObject({ verdict: 'intact', declaredLosses: [] })
  })
})

async function leafCount(clinicId: string): Promise<number> {
  const { rows } = await db.admin.query<{ n: string }>(`select count(*) as n from audit_leaf where clinic_id = $1`, [
    clinicId,
  ])
  return Number(rows[0]!.n)
}

/** What restoring an older backup leaves of the newest epoch. */
async function rollBackTo(clinicId: string, size: number): Promise<void> {
  await db.admin.query(
    `with gone as (delete from audit_leaf where clinic_id = $1 and seq > $2 returning event_id) select from gone`,
    [clinicId, size],
  )
  await db.admin.query(`delete from tree_head where clinic_id = $1 and size > $2`, [clinicId, size])
  await db.admin.query(
    `delete from audit_disclosure d where clinic_id = $1
      and not exists (select from audit_leaf l where l.clinic_id = d.clinic_id and l.event_id = d.event_id)`,
    [clinicId],
  )
  await db.admin.query(
    `delete from audit_event e where clinic_id = $1
     and not exists (select from audit_leaf l where l.clinic_id = e.clinic_id and l.event_id = e.id)`,
    [clinicId],
  )
}

function witnessAround(
  witness: Witness,
  around: (append: () => ReturnType<Witness['append']>) => ReturnType<Witness['append']>,
): Witness {
  return {
    last: (clinicId) => witness.last(clinicId),
    clinicIds: () => witness.clinicIds(),
    all: (clinicId) => witness.all(clinicId),
    append: (record) => around(() => witness.append(record)),
  }
}

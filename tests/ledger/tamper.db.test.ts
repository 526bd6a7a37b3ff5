import { randomUUID } from 'node:crypto'
import type { PoolClient } from 'pg'
import { beforeEach, describe, expect, it } from 'vitest'
import { canonicalEntry } from '../../src/ledger/canonical-event.ts'
import { leavesWithEvents } from '../../src/ledger/ledger-rows.ts'
import {
  appendLeaves,
  EMPTY_FRONTIER,
  frontierRoot,
  verifyConsistency,
  verifyInclusion,
} from '../../src/ledger/merkle.ts'
import { proveConsistency, proveInclusion } from '../../src/ledger/proofs.ts'
import type { ClinicVerification } from '../../src/ledger/verify-clinic.ts'
import { verifyClinic } from '../../src/ledger/verify-clinic.ts'
import { witnessLine } from '../../src/ledger/witness.ts'
import {
  appendEvents,
  collect,
  exportOf,
  insertClinic,
  ledgerDatabase,
  makeDeps,
  readerOf,
  seal,
  temporaryDirectory,
  witnessOf,
} from './ledger-fixture.ts'
import { secondOpinion } from './second-verifier.ts'

const db = await ledgerDatabase()
const deps = makeDeps(await temporaryDirectory())

/** 12 sealed entries under heads of size 5, 9 and 12. */
let clinicId: string
beforeEach(async () => {
  clinicId = await sealedClinic()
})

async function sealedClinic(): Promise<string> {
  const id = await insertClinic(db)
  for (const count of [5, 4, 3]) {
    await appendEvents(db, id, count)
    await seal(db, id, deps)
  }
  return id
}

/** The database's superuser at work: no foreign key, no trigger, no policy stands in the way. */
async function asSuperuser(work: (client: PoolClient) => Promise<unknown>): Promise<void> {
  const client = await db.admin.connect()
  try {
    await client.query(`set session_replication_role = replica`)
    await work(client)
    await client.query(`reset session_replication_role`)
  } finally {
    client.release()
  }
}

async function verdict(id = clinicId): Promise<ClinicVerification> {
  const witness = await witnessOf(deps, id)
  return verifyClinic(readerOf(db.app, id), id, new Date(), { keys: deps.keys, witness })
}

/** The same log exported and read offline by the other verifier. */
async function opinion(id = clinicId): Promise<{ sound: boolean; sequence: number }> {
  const lines = (await collect(deps.witness.all(id))).map(witnessLine)
  const { sound, sequence } = secondOpinion(await exportOf(db, id), deps.trustedKeys, lines)
  return { sound, sequence }
}

async function eventIdOf(sequence: number, id = clinicId): Promise<string> {
  const { rows } = await db.admin.query<{ event_id: string }>(
    `select event_id from audit_leaf where clinic_id = $1 and epoch = 1 and seq = $2`,
    [id, sequence],
  )
  return rows[0]!.event_id
}

/** Leaves made anew from what the events say now: everything recomputed that can be without the signing key. */
async function recomputeLeaves(client: PoolClient, id = clinicId): Promise<void> {
  for (const { sequence, entry } of await leavesWithEvents(client, id, 1, 0, 1_000)) {
    if (entry === null) continue
    const { bytes, leafHash } = canonicalEntry(entry)
    await client.query(`update audit_leaf set canonical = $3, leaf_hash = $4 where clinic_id = $1 and seq = $2`, [
      id,
      sequence,
      bytes,
      leafHash,
    ])
  }
}

/** Roots and frontiers of the stored heads, to fit the leaves. The signatures cannot be made to fit. */
async function recomputeHeads(client: PoolClient): Promise<void> {
  const { rows } = await client.query<{ leaf_hash: Buffer }>(
    `select leaf_hash from audit_leaf where clinic_id = $1 order by seq`,
    [clinicId],
  )
  const hashes = rows.map(({ leaf_hash }) => leaf_hash)
  const heads = await client.query<{ size: string }>(`select size from tree_head where clinic_id = $1`, [clinicId])
  for (const { size } of heads.rows) {
    const frontier = appendLeaves(EMPTY_FRONTIER, hashes.slice(0, Number(size)))
    await client.query(
      `update tree_head set root = $3, frontier = jsonb_set(frontier, '{hashes}', $4::jsonb)
       where clinic_id = $1 and size = $2`,
      [clinicId, size, frontierRoot(frontier), JSON.stringify(frontier.hashes.map((hash) => hash.toString('hex')))],
    )
  }
}

describe('the roles of the service', () => {
  const insert = (column: string, value: string) =>
    `insert into audit_event (clinic_id, id, ${column}, action, outcome, request_id)
     values (gen_random_uuid(), gen_random_uuid(), ${value}, 'a.b', 'done', 'r')`
  it.each([
    ['app', 'audit_event', `update audit_event set action = 'x.y'`],
    ['app', 'audit_event', `delete from audit_event`],
    ['app', 'audit_event', `truncate audit_event cascade`],
    ['app', 'audit_leaf', `insert into audit_leaf select clinic_id, 9, 1, id, '', '' from audit_event`],
    ['app', 'audit_disclosure', `delete from audit_disclosure`],
    ['app', 'tree_head', `delete from tree_head`],
    // Its place and its time an event gets from the database.
    ['app', 'audit_event', insert('xid', `'7'`)],
    ['app', 'audit_event', insert('ord', '7')],
    ['app', 'audit_event', insert('at', `'2026-01-01'`)],
    ['sealer', 'audit_leaf', `update audit_leaf set canonical = ''`],
    ['sealer', 'audit_leaf', `delete from audit_leaf`],
    ['sealer', 'tree_head', `update tree_head set jws = ''`],
    ['sealer', 'tree_head', `delete from tree_head`],
    ['sealer', 'audit_event', insert('purpose', 'null')],
    ['sealer', 'audit_event', `delete from audit_event`],
    ['sealer', 'audit_disclosure', `delete from audit_disclosure`],
  ] as const)('%s may not, on %s: %s', async (role, table, sql) => {
    // Not some other 42501: row-level security and the tables that a statement reads refuse with the same code.
    const message = `permission denied for table ${table}`
    await expect(db[role].query(sql)).rejects.toMatchObject({ code: '42501', message })
  })

  it('the service may write an event', async () => {
    const client = await db.app.connect()
    try {
      await client.query('begin')
      await client.query(`select set_config('app.clinic_id', $1, true)`, [clinicId])
      await client.query(
        `insert into audit_event (clinic_id, id, purpose, action, outcome, request_id) values ($1, gen_random_uuid(), null, 'a.b', 'done', 'r')`,
        [clinicId],
      )
    } finally {
      await client.query('rollback')
      client.release()
    }
  })
})

describe('the superuser is found out', () => {
  it.each([
    ['actor_principal_id', `gen_random_uuid()`],
    ['actor_role', `'owner'`],
    ['client', `null`],
    ['purpose', `'research'`],
    ['action', `'session.create'`],
    ['outcome', `'refused'`],
    ['request_id', `'another'`],
    ['at', `at + interval '1 ms'`],
    ['subject_ids', `'{}'`],
    ['resource_ids', `'[]'`],
    ['details', `details || '{"n": 99}'`],
  ])('editing the %s of an event', async (column, value) => {
    const id = await eventIdOf(7)
    await asSuperuser((client) =>
      client.query(`update audit_event set ${column} = ${value} where clinic_id = $1 and id = $2`, [clinicId, id]),
    )
    expect(await verdict()).toMatchObject({
      verdict: 'broken',
      firstBad: { epoch: 1, sequence: 7, notAfter: 7, reason: 'event_differs_from_leaf' },
    })
  })

  it('editing an event and its leaf, every hash and root recomputed', async () => {
    const id = await eventIdOf(7)
    await asSuperuser(async (client) => {
      await client.query(`update audit_event set outcome = 'refused' where clinic_id = $1 and id = $2`, [clinicId, id])
      await recomputeLeaves(client)
      await recomputeHeads(client)
    })
    const bad = { epoch: 1, sequence: 7, notAfter: 7, reason: 'entry_differs_from_witness' }
    expect(await verdict()).toMatchObject({ verdict: 'broken', firstBad: bad })
    expect(await opinion()).toEqual({ sound: false, sequence: 7 })
    await expect(seal(db, clinicId, deps)).rejects.toMatchObject({ code: 'head_differs_from_witness' })
  })

  it('deleting an event alone', async () => {
    const id = await eventIdOf(4)
    await asSuperuser((client) =>
      client.query(`delete from audit_event where clinic_id = $1 and id = $2`, [clinicId, id]),
    )
    expect(await verdict()).toMatchObject({ verdict: 'broken', firstBad: { sequence: 4, reason: 'event_missing' } })
  })

  it('deleting an event with its leaf from the middle', async () => {
    const id = await eventIdOf(4)
    await asSuperuser(async (client) => {
      await client.query(`delete from audit_leaf where clinic_id = $1 and seq = 4`, [clinicId])
      await client.query(`delete from audit_event where clinic_id = $1 and id = $2`, [clinicId, id])
    })
    expect(await verdict()).toMatchObject({ firstBad: { sequence: 4, reason: 'sequence_not_gapless' } })
    expect(await opinion()).toEqual({ sound: false, sequence: 4 })
  })

  it('deleting from the middle, closing the gap and recomputing everything', async () => {
    await asSuperuser(async (client) => {
      await client.query(`delete from audit_leaf where clinic_id = $1 and seq = 4`, [clinicId])
      // In two steps, because the key holds at every row.
      await client.query(`update audit_leaf set seq = seq + 1000 where clinic_id = $1 and seq > 4`, [clinicId])
      await client.query(`update audit_leaf set seq = seq - 1001 where clinic_id = $1 and seq > 1000`, [clinicId])
      await recomputeLeaves(client)
      await recomputeHeads(client)
    })
    expect(await verdict()).toMatchObject({
      firstBad: { sequence: 4, notAfter: 4, reason: 'entry_differs_from_witness' },
    })
    expect(await opinion()).toEqual({ sound: false, sequence: 4 })
  })

  it('cutting the tail with its heads', async () => {
    await asSuperuser(async (client) => {
      await client.query(`delete from audit_leaf where clinic_id = $1 and seq > 9`, [clinicId])
      await client.query(`delete from tree_head where clinic_id = $1 and size > 9`, [clinicId])
    })
    expect(await verdict()).toMatchObject({ verdict: 'broken', firstBad: { sequence: 10, reason: 'entry_missing' } })
    expect(await opinion()).toEqual({ sound: false, sequence: 10 })
    await expect(seal(db, clinicId, deps)).rejects.toMatchObject({
      code: 'database_behind_witness',
      sequence: 10,
    })
  })

  it('cutting the tail and leaving the heads', async () => {
    await asSuperuser((client) => client.query(`delete from audit_leaf where clinic_id = $1 and seq > 10`, [clinicId]))
    expect(await verdict()).toMatchObject({ firstBad: { sequence: 11, reason: 'entry_missing' } })
    await expect(seal(db, clinicId, deps)).rejects.toMatchObject({
      code: 'database_behind_witness',
      sequence: 11,
    })
  })

  it('rewriting the tail: cut, other events written, numbered and hashed in its place', async () => {
    await asSuperuser(async (client) => {
      await client.query(
        `update audit_event e set action = 'session.list' from audit_leaf l
         where e.clinic_id = $1 and l.clinic_id = $1 and l.event_id = e.id and l.seq > 9`,
        [clinicId],
      )
      await recomputeLeaves(client)
      await client.query(`delete from tree_head where clinic_id = $1 and size > 9`, [clinicId])
    })
    expect(await verdict()).toMatchObject({ firstBad: { sequence: 10, notAfter: 10 } })
    await expect(seal(db, clinicId, deps)).rejects.toMatchObject({
      code: 'leaves_differ_from_witness',
      sequence: 10,
    })
  })

  it('exchanging the places of two entries', async () => {
    await asSuperuser(async (client) => {
      for (const [from, to] of [
        [3, 1003],
        [8, 3],
        [1003, 8],
      ]) {
        await client.query(`update audit_leaf set seq = $3 where clinic_id = $1 and seq = $2`, [clinicId, from, to])
      }
    })
    expect(await verdict()).toMatchObject({ verdict: 'broken', firstBad: { sequence: 3 } })
    expect(await opinion()).toEqual({ sound: false, sequence: 3 })
  })

  it('inserting an entry and renumbering the rest', async () => {
    await asSuperuser(async (client) => {
      const id = randomUUID()
      await client.query(
        `insert into audit_event (clinic_id, id, actor_role, action, outcome, request_id)
         values ($1, $2, 'owner', 'consent.create', 'done', 'slipped-in')`,
        [clinicId, id],
      )
      await client.query(`update audit_leaf set seq = seq + 1000 where clinic_id = $1 and seq >= 6`, [clinicId])
      await client.query(`update audit_leaf set seq = seq - 999 where clinic_id = $1 and seq > 1000`, [clinicId])
      await client.query(
        `insert into audit_leaf (clinic_id, epoch, seq, event_id, canonical, leaf_hash)
         values ($1, 1, 6, $2, '', decode(repeat('00', 32), 'hex'))`,
        [clinicId, id],
      )
      await recomputeLeaves(client)
      await recomputeHeads(client)
    })
    expect(await verdict()).toMatchObject({
      firstBad: { sequence: 6, notAfter: 6, reason: 'entry_differs_from_witness' },
    })
    expect(await opinion()).toEqual({ sound: false, sequence: 6 })
  })

  it('slipping in an event behind the seal, where lists would show it', async () => {
    const id = randomUUID()
    await asSuperuser((client) =>
      client.query(
        `insert into audit_event (clinic_id, id, xid, action, outcome, request_id)
         values ($1, $2, '5', 'consent.create', 'done', 'slipped-in')`,
        [clinicId, id],
      ),
    )
    expect(await verdict()).toMatchObject({ verdict: 'broken', eventsWithoutLeaf: [id] })
  })

  it('swapping entries between two clinics', async () => {
    const other = await sealedClinic()
    const swap = async (client: PoolClient, from: string, to: string): Promise<void> => {
      await client.query(
        `update audit_leaf t set canonical = s.canonical, leaf_hash = s.leaf_hash from audit_leaf s
         where t.clinic_id = $1 and s.clinic_id = $2 and t.seq = 6 and s.seq = 6`,
        [to, from],
      )
    }
    await asSuperuser((client) => swap(client, other, clinicId))
    expect(await verdict()).toMatchObject({ firstBad: { sequence: 6, reason: 'event_differs_from_leaf' } })
    expect(await opinion()).toEqual({ sound: false, sequence: 6 })
  })

  it('handing the log of one clinic to another', async () => {
    const other = await sealedClinic()
    await asSuperuser(async (client) => {
      for (const table of ['audit_leaf', 'tree_head', 'audit_event']) {
        await client.query(`delete from ${table} where clinic_id = $1`, [clinicId])
        await client.query(`update ${table} set clinic_id = $1 where clinic_id = $2`, [clinicId, other])
      }
    })
    expect(await verdict()).toMatchObject({ verdict: 'broken', firstBad: { sequence: 1 } })
    await expect(seal(db, clinicId, deps)).rejects.toMatchObject({ code: 'head_signature_unknown' })
  })

  it('replaying an old head in the place of the newest', async () => {
    await asSuperuser((client) =>
      client.query(
        `update tree_head set jws = (select jws from tree_head where clinic_id = $1 and size = 5)
         where clinic_id = $1 and size = 12`,
        [clinicId],
      ),
    )
    expect(await verdict()).toMatchObject({ firstBad: { sequence: 10, notAfter: 12, reason: 'head_out_of_order' } })
    await expect(seal(db, clinicId, deps)).rejects.toMatchObject({ code: 'head_differs_from_witness' })
  })

  it.each([
    ['changing', `jsonb_set(frontier, '{hashes,0}', to_jsonb(repeat('ab', 32)))`],
    ['removing', `jsonb_set(frontier, '{hashes}', '[]')`],
  ])('%s the subtrees that the next head would be computed from', async (_, forged) => {
    await asSuperuser((client) =>
      client.query(`update tree_head set frontier = ${forged} where clinic_id = $1 and size = 12`, [clinicId]),
    )
    await appendEvents(db, clinicId, 1)
    await expect(seal(db, clinicId, deps)).rejects.toMatchObject({ code: 'frontier_differs_from_head' })
  })

  it('changing the subtrees and the root beside them: no head is signed over it, and the witness stays whole', async () => {
    const id = await eventIdOf(7)
    await asSuperuser(async (client) => {
      await client.query(`update audit_event set outcome = 'refused' where clinic_id = $1 and id = $2`, [clinicId, id])
      await recomputeLeaves(client)
      await recomputeHeads(client)
    })
    await appendEvents(db, clinicId, 1)
    const before = await collect(deps.witness.all(clinicId))
    await expect(seal(db, clinicId, deps)).rejects.toMatchObject({ code: 'head_differs_from_witness' })
    expect(await collect(deps.witness.all(clinicId))).toEqual(before)
    expect(await verdict()).toMatchObject({ firstBad: { sequence: 7, reason: 'entry_differs_from_witness' } })
  })

  it('deleting the stored heads brings them back from the witness, and nothing else with them', async () => {
    const before = await exportOf(db, clinicId)
    await asSuperuser((client) => client.query(`delete from tree_head where clinic_id = $1`, [clinicId]))
    expect(await verdict()).toMatchObject({ verdict: 'broken' })
    await seal(db, clinicId, deps)
    expect(await verdict()).toMatchObject({ verdict: 'intact' })
    expect((await exportOf(db, clinicId)).slice(1)).toEqual(before.slice(1))
  })

  it('or left alone, if nothing was touched', async () => {
    expect(await verdict()).toMatchObject({
      verdict: 'intact',
      entries: 12,
      heads: 4,
      firstBad: null,
      eventsWithoutLeaf: [],
    })
    expect(await opinion()).toEqual({ sound: true, sequence: 0 })
  })
})

describe('a witness that lost lines', () => {
  it('is an alarm: the database holds a head that nobody witnessed', async () => {
    const emptied = makeDeps(await temporaryDirectory())
    await expect(seal(db, clinicId, { ...deps, witness: emptied.witness })).rejects.toMatchObject({
      code: 'witness_behind_database',
      epoch: 1,
      sequence: 1,
    })
  })
})

describe('proofs made from the database', () => {
  it('show every entry in every head, and every head as the beginning of the later ones', async () => {
    const read = readerOf(db.app, clinicId)
    const { epochs } = await witnessOf(deps, clinicId)
    const roots = new Map([...epochs.get(1)!.heads].map(([size, head]) => [size, Buffer.from(head.rootHash, 'hex')]))
    const bytes = (path: readonly string[]): Buffer[] => path.map((hash) => Buffer.from(hash, 'hex'))
    for (const size of [5, 9, 12]) {
      for (let sequence = 1; sequence <= size; sequence++) {
        const proof = await proveInclusion(read, clinicId, 1, sequence, size)
        expect(
          verifyInclusion({
            leafHash: Buffer.from(proof.leafHash, 'hex'),
            index: proof.leafIndex,
            size,
            proof: bytes(proof.path),
            root: roots.get(size)!,
          }),
        ).toBe(true)
      }
    }
    for (const [first, second] of [
      [5, 9],
      [5, 12],
      [9, 12],
    ] as const) {
      const { path } = await proveConsistency(read, clinicId, 1, first, second)
      const claim = { first, second, firstRoot: roots.get(first)!, secondRoot: roots.get(second)!, proof: bytes(path) }
      expect(verifyConsistency(claim)).toBe(true)
    }
  })

  it('do not exist for entries that are not there, nor from size 0', async () => {
    const read = readerOf(db.app, clinicId)
    await expect(proveInclusion(read, clinicId, 1, 13, 13)).rejects.toThrow(RangeError)
    await expect(proveInclusion(read, clinicId, 1, 0, 12)).rejects.toThrow(RangeError)
    await expect(proveConsistency(read, clinicId, 1, 0, 12)).rejects.toThrow(RangeError)
    await expect(proveConsistency(read, clinicId, 1, 5, 13)).rejects.toThrow(RangeError)
  })
})

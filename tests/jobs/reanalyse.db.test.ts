import { afterAll, beforeEach, describe, expect, it } from 'vitest'
import { createPreparationPool } from '../../src/application/prepare-session/pool.ts'
import { chooseParameters } from '../../src/application/reanalysis/choose-parameters.ts'
import { AppError } from '../../src/domain/errors.ts'
import { analysisChoicesDocument } from '../../src/domain/analysis-choices-document.ts'
import { reanalyse, type ReanalyseOptions } from '../../src/jobs/reanalyse.ts'
import { withClient } from '../../src/store/migrate/with-client.ts'
import type { LooseDocument } from '../fixtures/example-session.ts'
import { makeTestService } from '../harness/clinic.ts'
import { testDatabase } from '../harness/test-database.ts'
import { makeWorld, recorded, worldIn, type World } from '../application/sessions/documents.ts'

const database = await testDatabase()
const service = await makeTestService(database)
const pool = createPreparationPool({ threads: 1, maxQueue: 4, timeLimitMs: 30_000 })
afterAll(() => pool.close())

let world: World
let session: LooseDocument
beforeEach(async () => {
  world = await makeWorld(service)
  session = await push('2026-06-02')
})

const push = async (day: string, of = world, seed = 1): Promise<LooseDocument> => {
  const answer = await of.machine.post('/v1/sessions', recorded(of.visit(day), seed))
  expect(answer.status, answer.text).toBe(201)
  return answer.body
}

const FULL_RANGE = { workWindow: 'full_range' } as const
const parametersOf = (choices: object) => chooseParameters(analysisChoicesDocument.parse(choices))

async function run(choices: object, more: Partial<ReanalyseOptions> & { dryRun?: boolean; clinicId?: string } = {}) {
  const lines: string[] = []
  const { dryRun = false, clinicId = world.clinic.clinicId, ...options } = more
  const job = { db: service.db, pool, clinicId, parameters: parametersOf(choices), dryRun, clock: () => new Date() }
  const report = await reanalyse(job, { subjectId: null, limit: null, atOnce: 2, say: (line) => lines.push(line), ...options }) // prettier-ignore
  return { report, lines }
}

const results = async (of = session.session.id as string): Promise<LooseDocument[]> =>
  (await world.clinician.get(`/v1/sessions/${of}/results`)).body.items
const workOf = (rows: readonly LooseDocument[]) =>
  rows.map((row) => row.measures.workPerRepetition.best.value as number)
const peakOf = (rows: readonly LooseDocument[]) => rows.map((row) => row.measures.peakTorque.best.value as number)

describe('the re-analysis of a clinic', () => {
  it('finds nothing to do where every analysis is of this release and the usual choices', async () => {
    expect((await run({})).report).toEqual({ sets: 0, moved: 0, unchanged: 0, overtaken: 0, failed: 0 })
  })

  it('prints old -> new in a dry run and changes nothing', async () => {
    const before = await results()
    const { report, lines } = await run(FULL_RANGE, { dryRun: true })
    expect(report).toMatchObject({ sets: 2, moved: 2 })
    const line = lines.find((one) => one.startsWith('2026-06-02 right knee/extension/') && one.includes('workPerRepetition best')) // prettier-ignore
    expect(line).toMatch(/^2026-06-02 right knee\/extension\/isokinetic_concentric\/reciprocal\/60 workPerRepetition best: \d+\.\d+ -> \d+\.\d+ J$/) // prettier-ignore
    // Peak torque does not hang on the window of work
    expect(lines.filter((one) => one.includes(' peakTorque '))).toEqual([])
    expect(await results()).toEqual(before)
  })

  it('puts new results in force and keeps the old ones readable, by id and by time', async () => {
    const before = await results()
    const known = new Date().toISOString()
    await new Promise((resolve) => setTimeout(resolve, 10))
    expect((await run(FULL_RANGE)).report).toMatchObject({ sets: 2, moved: 2, failed: 0 })
    const after = await results()
    expect(after).toHaveLength(before.length)
    expect(after.map(({ state }) => state)).toEqual(before.map(() => 'final'))
    expect(peakOf(after)).toEqual(peakOf(before))
    // Over the full range a repetition does more work than over its load range alone
    workOf(after).forEach((work, index) => expect(work).toBeGreaterThan(workOf(before)[index]!))
    expect(after[0]!.method.workWindow).toBe('full_range')
    const old = await world.clinician.get(`/v1/results/${before[0]!.id}`)
    expect(old.body).toMatchObject({ state: 'superseded', measures: before[0]!.measures })

    const ask = { measure: 'workPerRepetition' }
    const [now, then] = [await world.trend('left', ask), await world.trend('left', { ...ask, asKnownAt: known })]
    const left = (rows: LooseDocument[]) => rows.filter((row) => row.side === 'left' && row.movement === 'extension')
    expect(now.points.map((point: LooseDocument) => point.quantity.value)).toEqual(workOf(left(after)))
    expect(then.points.map((point: LooseDocument) => point.quantity.value)).toEqual(workOf(left(before)))
  })

  it('back with the old choices gives the old numbers to the last bit', async () => {
    const before = await results()
    await run(FULL_RANGE)
    await run({})
    expect((await results()).map(({ measures }) => measures)).toEqual(before.map(({ measures }) => measures))
  })

  it('goes on where it was stopped, and a second run has nothing left to do', async () => {
    await push('2026-07-02', world, 7)
    expect((await run(FULL_RANGE, { limit: 1 })).report.sets).toBe(1)
    expect((await run(FULL_RANGE, { limit: 2, atOnce: 2 })).report.sets).toBe(2)
    expect((await run(FULL_RANGE)).report.sets).toBe(1)
    expect((await run(FULL_RANGE)).report.sets).toBe(0)
  })

  it('moves only the clinic, and only the subject, that it is asked for', async () => {
    const other = await worldIn(service, world.clinic, 'RB-2')
    await push('2026-06-02', other, 3)
    const elsewhere = await makeWorld(service)
    await push('2026-06-02', elsewhere, 5)
    expect((await run(FULL_RANGE, { subjectId: other.subjectId })).report.sets).toBe(2)
    expect((await run(FULL_RANGE)).report.sets).toBe(2)
    expect((await run(FULL_RANGE, { clinicId: elsewhere.clinic.clinicId, dryRun: true })).report.sets).toBe(2)
  })

  it('leaves reported values alone', async () => {
    const other = await worldIn(service, world.clinic, 'RB-2')
    await other.pushVisit('2026-06-02')
    expect((await run(FULL_RANGE, { subjectId: other.subjectId })).report.sets).toBe(0)
  })

  it('half done leaves tests made with other choices side by side, which compare with caution and say why', async () => {
    const [left] = await results()
    await run(FULL_RANGE, { limit: 1, atOnce: 1 })
    const next = await push('2026-08-02', world, 9)
    const entries = next.comparability.filter((one: LooseDocument) => one.with === 'previous') as LooseDocument[]
    const ofSide = (side: string) => entries.find((one) => one.side === side && one.movement === 'extension')!
    const blamed = (side: string) => ofSide(side).reasons.map((one: LooseDocument) => one.factor)
    expect(left!.side).toBe('left')
    expect([blamed('left'), blamed('right')]).toEqual([['processing'], []])
    expect(ofSide('left').verdicts.workPerRepetition).toBe('comparable_with_caution')
  })

  it('lifts no hold and forgets no resolution: flags go over to the new results', async () => {
    const held = await worldIn(service, world.clinic, 'RB-9')
    const document = recorded(held.visit('2026-06-02', { change: (d) => void (d.screening.pain.during.value = 6) }), 11)
    const pushed = (await held.push(document)).body
    const holds = pushed.flags.filter((flag: LooseDocument) => flag.level === 'hold')
    expect(holds.length).toBeGreaterThan(1)
    const dismissed = await world.clinician.post(`/v1/flags/${holds[0].id}/resolution`, { status: 'dismissed', reason: 'Pain of the other knee' }) // prettier-ignore
    expect(dismissed.status, dismissed.text).toBe(201)
    const flagsOf = async () =>
      (await world.clinician.get(`/v1/sessions/${pushed.session.id}/flags`)).body.items as LooseDocument[]
    const seen = (rows: LooseDocument[]) => rows.map(({ code, level, status, pointer, resolution }) => JSON.stringify([code, level, status, pointer, resolution ?? null])).sort() // prettier-ignore
    const before = await flagsOf()
    await run(FULL_RANGE, { subjectId: held.subjectId })
    const after = await flagsOf()
    expect(seen(after)).toEqual(seen(before))
    const current = (await world.clinician.get(`/v1/sessions/${pushed.session.id}/results`)).body.items as LooseDocument[] // prettier-ignore
    const ids = new Set(current.map(({ id }) => id as string))
    expect(after.every(({ resultId }) => resultId === undefined || ids.has(resultId as string))).toBe(true)
    expect(current.map(({ state }) => state as string).sort()).toEqual(['final', ...Array<string>(current.length - 1).fill('held')]) // prettier-ignore
  })

  it('leaves an event in the log for every set, in the transaction of its effect', async () => {
    await run(FULL_RANGE)
    const events = await world.service.api(world.clinic.tokens.auditor).get('/v1/audit/events?action=results.reanalyse')
    expect(events.status, events.text).toBe(200)
    expect(events.body.items).toHaveLength(2)
    expect(events.body.items[0]).toMatchObject({ outcome: 'done', subjectIds: [world.subjectId] })
  })

  it('steps aside where the session was amended or withdrawn while it was computing', async () => {
    const lines: string[] = []
    const busy = {
      reanalyse: async (...asked: Parameters<typeof pool.reanalyse>) => {
        const analysis = await pool.reanalyse(...asked)
        await world.clinician.post(`/v1/sessions/${session.session.id}/entered-in-error`, { reason: 'Another person' }, { headers: { 'if-match': '"1"' } }) // prettier-ignore
        return analysis
      },
    }
    const job = { db: service.db, pool: busy, clinicId: world.clinic.clinicId, parameters: parametersOf(FULL_RANGE), dryRun: false, clock: () => new Date() } // prettier-ignore
    const report = await reanalyse(job, { subjectId: null, limit: 1, atOnce: 1, say: (line) => lines.push(line) })
    expect(report).toMatchObject({ sets: 1, overtaken: 1, moved: 0 })
    expect(await world.trend('left')).toMatchObject({ points: [] })
  })

  it('comes back where the threads are busy, and gives up on what is broken at once', async () => {
    let asked = 0
    const busyOnce = {
      reanalyse: (...task: Parameters<typeof pool.reanalyse>) => {
        asked++
        if (asked === 1) throw new AppError('busy', { retryAfterSeconds: 0.01 })
        if (asked === 3) throw new AppError('internal')
        return pool.reanalyse(...task)
      },
    }
    const job = { db: service.db, pool: busyOnce, clinicId: world.clinic.clinicId, parameters: parametersOf(FULL_RANGE), dryRun: true, clock: () => new Date() } // prettier-ignore
    const report = await reanalyse(job, { subjectId: null, limit: null, atOnce: 1, say: () => {} })
    expect(report).toMatchObject({ sets: 2, moved: 1, failed: 1 })
    expect(asked).toBe(3)
  })

  it('goes on past a recording that is damaged, says which, and counts it', async () => {
    await withClient(database.adminUrl, (client) =>
      client.query(
        `update recording_blob set bytes = '\\x00'::bytea where clinic_id = $1 and sha256 =
           (select recording_sha from test_set where clinic_id = $1 and key = 'left-60' limit 1)`,
        [world.clinic.clinicId],
      ),
    )
    const { report, lines } = await run(FULL_RANGE)
    expect(report).toMatchObject({ sets: 2, failed: 1, moved: 1 })
    expect(lines.filter((line) => line.startsWith('set '))).toHaveLength(1)
  })
})

/** Precautions and screening of a test that was done: it is stored, flagged at its place, and on the work list. */
import { beforeAll, describe, expect, it } from 'vitest'
import { SCREENING_QUESTIONS } from '../../../src/domain/code-lists.ts'
import type { LooseDocument } from '../../fixtures/example-session.ts'
import { freshClinic, makeTestService, type FreshClinic } from '../../harness/clinic.ts'
import { testDatabase } from '../../harness/test-database.ts'
import { recorded, worldIn, type VisitOptions, type World } from './documents.ts'

const service = await makeTestService(await testDatabase())
let clinic: FreshClinic
let subjects = 0
beforeAll(async () => {
  clinic = await freshClinic(service)
})

/** Surgery of the right knee on 2026-02-10; visits are in its week 39. */
const BEFORE_WEEK_60 = { kind: 'earliest_week', week: 60, setBy: 'surgeon' }

const withEpisode = (change: object): Promise<World> =>
  worldIn(service, clinic, `P-${++subjects}`, { episode: (body) => void Object.assign(body, change) })

const change = (edit: (document: LooseDocument) => void): VisitOptions => ({ change: edit })

/** Where a visit is flagged with a code. */
async function flagged(world: World, code: string, options: VisitOptions = {}): Promise<string[]> {
  const { flags } = await world.pushVisit('2026-11-10', options)
  return flags.filter((flag: LooseDocument) => flag.code === code).map((flag: LooseDocument) => flag.pointer)
}

describe('a precaution', () => {
  const broken = (world: World, options?: VisitOptions) => flagged(world, 'precaution_broken', options)

  it('holds for a visit that does not name its episode, and the flag is on the work list', async () => {
    const world = await withEpisode({ precautions: [BEFORE_WEEK_60] })
    expect(await broken(world, change((d) => delete d.episode))).toEqual(['#/sets/1']) // prettier-ignore
    const { items } = (await world.clinician.get('/v1/flags?limit=200')).body
    expect(
      items.filter(
        ({ code, subjectId }: LooseDocument) => code === 'precaution_broken' && subjectId === world.subjectId,
      ),
    ).toHaveLength(1)
  })

  it('of an episode that is over holds only where the visit names it', async () => {
    const world = await withEpisode({ precautions: [BEFORE_WEEK_60], status: 'completed' })
    expect(await broken(world, change((d) => delete d.episode))).toEqual([]) // prettier-ignore
    expect(await broken(world)).toEqual(['#/sets/1'])
  })

  it('of one joint says nothing about another one', async () => {
    const world = await withEpisode({ precautions: [BEFORE_WEEK_60] })
    expect(await broken(world, change((d) => d.setups.forEach((setup: LooseDocument) => (setup.joint = 'hip'))))).toEqual([]) // prettier-ignore
  })

  it('that counts weeks since a surgery whose date nobody wrote down is taken to hold', async () => {
    const unknown = await withEpisode({ precautions: [BEFORE_WEEK_60], surgeryOn: undefined })
    expect(await broken(unknown)).toEqual(['#/sets/1'])
    const later = await withEpisode({ precautions: [{ ...BEFORE_WEEK_60, week: 39 }] })
    expect(await broken(later)).toEqual([])
  })

  it('limiting the range is broken by where the limb went under load, although nobody wrote down the stops', async () => {
    const limit = (lowest: number, highest: number) => ({ kind: 'range_limit', lowest: { value: lowest, unit: 'deg' }, highest: { value: highest, unit: 'deg' }, setBy: 'surgeon' }) // prettier-ignore
    const withoutStops = change((d) => recorded(d).setups.forEach((setup: LooseDocument) => delete setup.stops))
    // The recording goes from 95 to 5 deg and back
    expect(await broken(await withEpisode({ precautions: [limit(45, 95)] }), withoutStops)).toEqual(['#/sets/1'])
    expect(await broken(await withEpisode({ precautions: [limit(5, 60)] }), withoutStops)).toEqual(['#/sets/1'])
    expect(await broken(await withEpisode({ precautions: [limit(5, 95)] }), withoutStops)).toEqual([])
    const ofFlexion = { ...limit(45, 95), movement: 'flexion' }
    const peakAt = (movement: string, degrees: number) =>
      change((d) => {
        delete d.setups[1].stops
        d.sets[1].reported.values.push({ movement, measure: 'angleOfPeakTorque', statistic: 'best', quantity: { value: degrees, unit: 'deg' } }) // prettier-ignore
      })
    const reported = await withEpisode({ precautions: [ofFlexion] })
    expect(await broken(reported, peakAt('flexion', 30))).toEqual(['#/sets/1'])
    expect(await broken(reported, peakAt('flexion', 46))).toEqual([])
    expect(await broken(reported, peakAt('extension', 30))).toEqual([])
  })

  it('of an episode that involves both limbs, or names none, holds for both', async () => {
    for (const involvedSide of ['bilateral', 'none']) {
      const world = await withEpisode({ precautions: [BEFORE_WEEK_60], involvedSide })
      expect(await broken(world), involvedSide).toEqual(['#/sets/0', '#/sets/1'])
    }
  })
})

describe('screening', () => {
  let world: World
  beforeAll(async () => {
    world = await withEpisode({ precautions: [] })
  })

  /** Every question, answered for each of these limbs; `yes` to one of them, for one. */
  const answers = (sides: readonly ('left' | 'right' | undefined)[], yes?: { question: string; side: string }) =>
    sides.flatMap((side) =>
      SCREENING_QUESTIONS.map(({ code }) => ({
        question: code,
        answer: code === yes?.question && side === yes.side ? 'yes' : 'no',
        ...(side === undefined ? {} : { side }),
      })),
    )
  const answered = (list: object[]): VisitOptions => change((d) => (d.screening.answers = list))

  it('answered for one limb leaves the other one unanswered, where that is tested too', async () => {
    const incomplete = (options: VisitOptions) => flagged(world, 'screening_incomplete', options)
    expect(await incomplete(answered(answers(['left'])))).toEqual(['#/screening'])
    expect(await incomplete({ ...answered(answers(['left'])), sides: ['left'] })).toEqual([])
    expect(await incomplete(answered(answers(['left', 'right'])))).toEqual([])
    expect(await incomplete(answered(answers([undefined])))).toEqual([])
  })

  it('says which limb an answer lacks', async () => {
    const list = answers(['left', 'right']).filter(({ question, side }) => !(question === 'marked_effusion' && side === 'right')) // prettier-ignore
    const { flags } = await world.pushVisit('2026-11-10', answered(list))
    expect(flags).toMatchObject([{ code: 'screening_incomplete', evidence: { unanswered: 'marked_effusion (right)' } }])
  })

  it('with a yes for the second limb points at that answer, and names the limb', async () => {
    const list = answers(['left', 'right'], { question: 'marked_effusion', side: 'right' })
    const { flags } = await world.pushVisit('2026-11-10', answered(list))
    const place = SCREENING_QUESTIONS.length + SCREENING_QUESTIONS.findIndex(({ code }) => code === 'marked_effusion')
    expect(flags).toMatchObject([
      { code: 'contraindication_reported', pointer: `#/screening/answers/${place}`, evidence: { question: 'marked_effusion', side: 'right' } }, // prettier-ignore
    ])
    expect(flags[0].message).toContain('marked effusion, right')
  })
})

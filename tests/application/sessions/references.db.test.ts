import { v7 as uuidv7 } from 'uuid'
import { beforeAll, describe, expect, it } from 'vitest'
import type { LooseDocument } from '../../fixtures/example-session.ts'
import { makeTestService } from '../../harness/clinic.ts'
import { testDatabase } from '../../harness/test-database.ts'
import { dynamometerWithSettings, makeWorld, rowCounts, seen, worldIn, type World } from './documents.ts'

const service = await makeTestService(await testDatabase())
let mine: World
let theirs: World
/** Another subject of my own clinic. */
let other: World
beforeAll(async () => {
  mine = await makeWorld(service)
  theirs = await worldIn(service, (await makeWorld(service)).clinic, 'RB-77')
  other = await worldIn(service, mine.clinic, 'RB-2')
})

const push = (change: (document: LooseDocument) => void, key?: string) =>
  mine.machine.post('/v1/sessions', { ...mine.visit('2026-11-10', { change }), notes: 'a' }, key === undefined ? {} : { key }) // prettier-ignore

type Point = (document: LooseDocument, to: 'theirs' | 'nothing') => void
const system = 'https://clinic.example'
const POINTS: readonly (readonly [what: string, pointer: string, point: Point])[] = [
  ['a subject by id', '#/subject', (d, to) => (d.subject = { id: to === 'theirs' ? theirs.subjectId : uuidv7() })],
  ['a subject by identifier', '#/subject', (d, to) => (d.subject = { identifier: { system: `${system}/record-number`, value: to === 'theirs' ? 'RB-77' : 'RB-99' } })], // prettier-ignore
  ['an episode by id', '#/episode', (d, to) => (d.episode = { id: to === 'theirs' ? theirs.episodeId : uuidv7() })],
  ['an episode by external id', '#/episode', (d, to) => (d.episode = { externalId: { system: 'https://ehr.clinic.example/case', value: to === 'theirs' ? 'C-RB-77' : 'C-99' } })], // prettier-ignore
  ['a dynamometer by id', '#/dynamometer', (d, to) => (d.dynamometer = { id: to === 'theirs' ? theirs.dynamometerId : uuidv7() })], // prettier-ignore
  ['a dynamometer by external id', '#/dynamometer', (d, to) => (d.dynamometer = { externalId: { system: `${system}/equipment`, value: to === 'theirs' ? 'lab of RB-77' : 'none' } })], // prettier-ignore
  ['an operator by id', '#/operator', (d, to) => (d.operator = { id: to === 'theirs' ? theirs.clinic.principals.clinician : uuidv7() })], // prettier-ignore
]

describe('wrong subject: a reference in a push', () => {
  it.each(POINTS)(
    'to %s of another clinic is answered as one to nothing: 422 with its place',
    async (_what, pointer, point) => {
      const before = await rowCounts(service)
      const [foreign, absent] = [await push((d) => point(d, 'theirs')), await push((d) => point(d, 'nothing'))]
      expect(foreign.status).toBe(422)
      expect(foreign.body).toMatchObject({ code: 'reference_not_found', retry: 'after_correction' })
      expect(foreign.body.errors[0]).toMatchObject({ pointer, code: 'reference_not_found' })
      expect(seen(foreign)).toEqual(seen(absent))
      expect(await rowCounts(service)).toEqual(before)
    },
  )

  it('to the episode of another subject is answered as one to nothing: it would lend a surgery date', async () => {
    const foreign = await push((d) => (d.episode = { id: other.episodeId }))
    const absent = await push((d) => (d.episode = { id: uuidv7() }))
    expect([foreign.status, foreign.body.errors]).toMatchObject([422, [{ pointer: '#/episode' }]])
    expect(seen(foreign)).toEqual(seen(absent))
  })

  it('to an unknown version of a description is a 422 at that version', async () => {
    const answer = await push((d) => (d.dynamometer.descriptionVersion = 2))
    expect(answer.status).toBe(422)
    expect(answer.body.errors).toMatchObject([{ pointer: '#/dynamometer/descriptionVersion' }])
  })

  it('to several things that are not there says all of them at once', async () => {
    const answer = await push((d) => {
      d.subject = { id: uuidv7() }
      d.episode = { id: uuidv7() }
      d.dynamometer = { id: uuidv7() }
      d.operator = { id: uuidv7() }
    })
    expect(answer.body.errors.map((e: LooseDocument) => e.pointer)).toEqual([
      '#/subject',
      '#/episode',
      '#/dynamometer',
      '#/operator',
    ])
  })

  it('creates nothing it points at', async () => {
    const before = await rowCounts(service)
    await push((d) => (d.subject = { identifier: { system: `${system}/record-number`, value: 'RB-new' } }))
    expect(await rowCounts(service)).toEqual(before)
    const { body } = await mine.machine.get(`/v1/subjects?identifierSystem=${system}/record-number&identifierValue=RB-new`) // prettier-ignore
    expect(body.items).toEqual([])
  })
})

const IN_SETUP: readonly (readonly [what: string, pointer: string, change: (setup: LooseDocument) => void])[] = [
  ['a setting it does not have', 'settings/footHeight', (s) => (s.settings.footHeight = true)],
  ['a value below the range', 'settings/seatDepth/value', (s) => (s.settings.seatDepth.value = 35)],
  ['a value above the range', 'settings/backrestAngle/value', (s) => (s.settings.backrestAngle.value = 111)],
  ['a value between two steps', 'settings/seatDepth/value', (s) => (s.settings.seatDepth.value = 42.3)],
  ['a unit of another kind', 'settings/seatDepth/unit', (s) => (s.settings.seatDepth = { value: 42, unit: 'deg' })],
  ['a mark that is not on the scale', 'settings/floorRail/mark', (s) => (s.settings.floorRail.mark = '5')],
  [
    'a mark on the scale of the other side',
    'settings/floorRail/scale',
    (s) => (s.settings.floorRail.scale = 'rail-left'),
  ],
  ['a quantity where a mark belongs', 'settings/floorRail', (s) => (s.settings.floorRail = { value: 2, unit: 'cm' })],
  ['a choice that is none', 'settings/wedge', (s) => (s.settings.wedge = 'steep')],
  ['a word where yes or no belongs', 'settings/footRestFolded', (s) => (s.settings.footRestFolded = 'folded')],
  ['yes where a quantity belongs', 'settings/seatDepth', (s) => (s.settings.seatDepth = true)],
  ['an attachment it does not have', 'attachment/key', (s) => (s.attachment.key = 'ankle-boot')],
  ['an arm too long for the attachment', 'attachment/leverArmLength/value', (s) => (s.attachment.leverArmLength.value = 0.43)], // prettier-ignore
]

describe('a setup against the description of its machine', () => {
  it.each(IN_SETUP)('with %s is a 400 at that place', async (_what, step, change) => {
    const answer = await push((d) => change(d.setups[1]))
    expect(answer.status, answer.text).toBe(400)
    expect(answer.body.code).toBe('not_in_description')
    expect(answer.body.errors).toMatchObject([{ code: 'not_in_description', pointer: `#/setups/1/${step}` }])
  })

  it('has every fault told at once, in both setups', async () => {
    const answer = await push((d) => {
      d.setups[0].settings.wedge = 'steep'
      d.setups[1].settings.seatDepth.value = 99
      d.setups[1].attachment.key = 'boot'
    })
    expect(answer.body.errors.map((e: LooseDocument) => e.pointer)).toEqual([
      '#/setups/0/settings/wedge',
      '#/setups/1/settings/seatDepth/value',
      '#/setups/1/attachment/key',
    ])
  })

  it('takes the ends of a range, every step, another unit of the same kind, and a description it was made for', async () => {
    const answer = await push((d) => {
      d.setups[0].settings.seatDepth = { value: 0.36, unit: 'm' }
      d.setups[1].settings.seatDepth = { value: 520, unit: 'mm' }
      d.setups[0].settings.backrestAngle.value = 60
      d.setups[1].attachment.leverArmLength = { value: 42, unit: 'cm' }
    })
    expect(answer.status, answer.text).toBe(201)
  })

  it('is held against the version it names, although a newer one says otherwise', async () => {
    const own = await worldIn(service, mine.clinic, 'RB-3')
    const before = own.visit('2026-11-03')
    const description: LooseDocument = dynamometerWithSettings('lab of RB-3')
    description.settings[1].range = { low: 44, high: 52 }
    const edited = await own.owner.put(`/v1/dynamometers/${own.dynamometerId}`, description, '"1"')
    expect(edited.status, edited.text).toBe(200)
    await own.push(before)
    const now = own.visit('2026-11-10', { change: (d) => (d.dynamometer.descriptionVersion = 2) })
    expect((await own.machine.post('/v1/sessions', now)).body.errors).toMatchObject([
      { pointer: '#/setups/0/settings/seatDepth/value' },
      { pointer: '#/setups/1/settings/seatDepth/value' },
    ])
  })
})

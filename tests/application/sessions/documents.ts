/* eslint-disable @typescript-eslint/no-unsafe-member-access, @typescript-eslint/no-unsafe-call, @typescript-eslint/no-unsafe-return --
   documents are taken apart and broken on purpose */
/**
 * A clinic with one knee to follow, and visits to push to it. Values are reported, so a visit is small and fast; everything
 * that decides a comparison is recorded, so that a test can take away or change exactly one thing.
 */
import { expect } from 'vitest'
import { SCREENING_QUESTIONS } from '../../../src/domain/code-lists.ts'
import { TABLE_CLASSES } from '../../../src/store/table-classes.ts'
import { withClient } from '../../../src/store/migrate/with-client.ts'
import { sampleMovement, type LooseDocument } from '../../fixtures/example-session.ts'
import { freshClinic, type Answer, type Api, type FreshClinic, type TestService } from '../../harness/clinic.ts'
import { calibrationBody, episodeBody, idOf, subjectBody } from '../../harness/samples.ts'

export interface Limbs {
  readonly left: number
  readonly right: number
}

export interface VisitOptions {
  /** Peak torques, N.m. */
  readonly extension?: Limbs
  readonly flexion?: Limbs
  readonly velocitiesDegS?: readonly number[]
  readonly sides?: readonly ('left' | 'right')[]
  readonly change?: (document: LooseDocument) => void
}

export interface World {
  readonly service: TestService
  readonly clinic: FreshClinic
  readonly machine: Api
  readonly clinician: Api
  readonly owner: Api
  /** Record number of the subject; ends the external ids of all that is made here. */
  readonly number: string
  readonly subjectId: string
  readonly episodeId: string
  readonly dynamometerId: string
  /** A document of this clinic's subject; each call is another visit. `day`: a date, or a time with offset. */
  readonly visit: (day: string, options?: VisitOptions) => LooseDocument
  /** Pushes it, and says what came instead of a 201. */
  readonly push: (document: LooseDocument) => Promise<Answer<LooseDocument>>
  readonly pushVisit: (day: string, options?: VisitOptions) => Promise<LooseDocument>
  readonly trend: (side: 'left' | 'right', more?: SeriesAsk) => Promise<LooseDocument>
  readonly symmetry: (more?: SeriesAsk) => Promise<LooseDocument>
}

export interface WorldOptions {
  readonly subject?: (body: LooseDocument) => void
  readonly episode?: (body: LooseDocument) => void
  readonly dynamometer?: (body: LooseDocument) => void
  /** Without one, every visit says that nobody checked the machine. */
  readonly calibrated?: boolean
}

const quantity = (value: number, unit: string) => ({ value, unit })

/** The clinic's own words for its machine: one setting of each kind. */
export const dynamometerWithSettings = (name = 'lab') => ({
  externalId: { system: 'https://clinic.example/equipment', value: name },
  name: 'Strength lab, window side',
  deviceFamily: 'window-side',
  settings: [
    { key: 'backrestAngle', label: 'Angle of the backrest', factor: 'backrest_angle', kind: 'quantity', unit: 'deg', range: { low: 60, high: 110 }, step: 1, mirror: 'same', tolerance: quantity(5, 'deg') }, // prettier-ignore
    { key: 'seatDepth', label: 'Depth of the seat', kind: 'quantity', unit: 'cm', range: { low: 36, high: 52 }, step: 0.5, mirror: 'same', tolerance: quantity(1, 'cm'), effectBeyondTolerance: 'not_comparable' }, // prettier-ignore
    { key: 'floorRail', label: 'Mark on the rail', kind: 'scaleMark', scales: { left: 'rail-left', right: 'rail-right' }, marks: ['1', '2', '3', '4'], mirror: 'same_mark_on_other_scale', toleranceMarks: 0 }, // prettier-ignore
    { key: 'wedge', label: 'Wedge', kind: 'choice', choices: ['none', 'thin', 'thick'], mirror: 'same' },
    { key: 'footRestFolded', label: 'Foot rest folded', kind: 'boolean', mirror: 'same' },
  ],
  attachments: [
    { key: 'shin-pad', label: 'Shin pad', leverArmLength: { low: quantity(0.2, 'm'), high: quantity(0.42, 'm') } },
    { key: 'thigh-pad', label: 'Thigh pad', leverArmLength: { low: quantity(0.2, 'm'), high: quantity(0.5, 'm') } },
  ],
})

export async function makeWorld(service: TestService, options: WorldOptions = {}): Promise<World> {
  return worldIn(service, await freshClinic(service), 'RB-1', options)
}

/** Another subject, episode and dynamometer of a clinic that is there. */
export async function worldIn(
  service: TestService,
  clinic: FreshClinic,
  number: string,
  { subject, episode, dynamometer, calibrated = true }: WorldOptions = {},
): Promise<World> {
  const [machine, clinician, owner] = [clinic.tokens.integration, clinic.tokens.clinician, clinic.tokens.owner].map(service.api) as [Api, Api, Api] // prettier-ignore
  const create = async (api: Api, url: string, body: LooseDocument, change?: (body: LooseDocument) => void) => {
    change?.(body)
    return idOf(await api.post(url, body))
  }
  const subjectId = await create(machine, '/v1/subjects', subjectBody(number), subject)
  const episodeId = await create(machine, '/v1/episodes', { ...episodeBody(subjectId, `C-${number}`), precautions: [] }, episode) // prettier-ignore
  const dynamometerId = await create(owner, '/v1/dynamometers', dynamometerWithSettings(`lab of ${number}`), dynamometer) // prettier-ignore
  if (calibrated) {
    const check = { ...calibrationBody(), checkedAt: '2025-01-07T08:15:00+01:00', nextDueOn: '2027-02-02' }
    await create(owner, `/v1/dynamometers/${dynamometerId}/calibration-checks`, check)
  }
  let visits = 0
  const place = { subjectId, episodeId, dynamometerId }
  const visit = (day: string, visitOptions: VisitOptions = {}): LooseDocument =>
    visitDocument(place, `V-${number}-${++visits}`, day, visitOptions)
  const push = async (document: LooseDocument) => {
    const answer = await machine.post('/v1/sessions', document)
    expect(answer.status, answer.text).toBe(201)
    return answer
  }
  const read = async (url: string) => {
    const answer = await clinician.get(url)
    expect(answer.status, answer.text).toBe(200)
    return answer.body
  }
  return {
    service,
    clinic,
    machine,
    clinician,
    owner,
    number,
    ...place,
    visit,
    push,
    pushVisit: async (day, visitOptions) => (await push(visit(day, visitOptions))).body,
    trend: (side, more) => read(`/v1/subjects/${subjectId}/trend?${seriesQuery({ side, ...more })}`),
    symmetry: (more) => read(`/v1/subjects/${subjectId}/symmetry?${seriesQuery(more)}`),
  }
}

/** The episode as it was sent, with its baseline. */
export async function nameBaseline({ clinician, episodeId }: World, sessionId: string): Promise<void> {
  const url = `/v1/episodes/${episodeId}`
  const episode = await clinician.get(url)
  const kept = ['externalId', 'subject', 'joint', 'involvedSide', 'otherLimbHistory', 'condition', 'injuredOn', 'surgeryOn', 'graft', 'precautions', 'primaryMeasures'] // prettier-ignore
  const words = Object.fromEntries(
    kept.filter((key) => episode.body[key] !== undefined).map((key) => [key, episode.body[key]]),
  )
  const edited = await clinician.put(
    url,
    { ...words, baselineSession: { id: sessionId } },
    episode.headers['etag'] ?? null,
  )
  expect(edited.status, edited.text).toBe(200)
}

export type SeriesAsk = Readonly<Record<string, string>>

/** Peak torque of concentric extension at 60 deg/s, unless said otherwise. */
export const seriesQuery = (more: SeriesAsk = {}): string =>
  new URLSearchParams({
    joint: 'knee',
    movement: 'extension',
    contractionMode: 'isokinetic_concentric',
    contractionScheme: 'reciprocal',
    velocity: '60 deg/s',
    measure: 'peakTorque',
    statistic: 'best',
    ...more,
  }).toString()

interface Place {
  readonly subjectId: string
  readonly episodeId: string
  readonly dynamometerId: string
}

function visitDocument(place: Place, number: string, day: string, options: VisitOptions): LooseDocument {
  const { extension = { left: 170, right: 150 }, flexion = { left: 92, right: 84 } } = options
  const { velocitiesDegS = [60], sides = ['left', 'right'], change = () => {} } = options
  const document = {
    externalId: { system: 'https://ehr.clinic.example/visit', value: number },
    subject: { id: place.subjectId },
    episode: { id: place.episodeId },
    dynamometer: { id: place.dynamometerId, descriptionVersion: 1 },
    operator: { identifier: { system: 'https://clinic.example/staff', value: 'clinician' } },
    startedAt: day.includes('T') ? day : `${day}T09:05:00+01:00`,
    purpose: 'progress_test',
    bodyMass: quantity(68.4, 'kg'),
    screening: {
      listVersion: '2026-1',
      answers: SCREENING_QUESTIONS.map(({ code }) => ({ question: code, answer: 'no' })),
      pain: { scale: 'numeric_rating_0_10', before: quantity(0, '{score}'), during: quantity(0, '{score}') },
    },
    conditions: {
      warmUp: { activity: 'cycling' },
      familiarisation: 'earlier_session',
      verbalEncouragement: 'script_a',
      visualFeedback: 'none',
      limbOrder: 'uninvolved_first',
    },
    setups: sides.map(setupOf),
    sets: sides.flatMap((side) =>
      velocitiesDegS.map((velocity) => ({
        key: `${side}-${velocity}`,
        setup: `${side}-knee`,
        contractionScheme: 'reciprocal',
        intendedRepetitions: 5,
        restBefore: quantity(120, 's'),
        directions: (['extension', 'flexion'] as const).map((movement) => ({
          movement,
          contractionMode: 'isokinetic_concentric',
          velocity: quantity(velocity, 'deg/s'),
        })),
        reported: {
          torqueState: 'gravity_corrected',
          deviceFilter: 'none',
          deviceWindowing: 'none',
          values: [peak('extension', extension[side]), peak('flexion', flexion[side])],
        },
      })),
    ),
  }
  change(document)
  return document
}

const peak = (movement: string, newtonMetres: number) => ({
  movement,
  measure: 'peakTorque',
  statistic: 'best',
  quantity: quantity(newtonMetres, 'N.m'),
})

function setupOf(side: 'left' | 'right'): LooseDocument {
  return {
    key: `${side}-knee`,
    joint: 'knee',
    side,
    bodyPosition: 'seated',
    settings: {
      backrestAngle: quantity(85, 'deg'),
      seatDepth: quantity(42, 'cm'),
      floorRail: { scale: `rail-${side}`, mark: '2' },
      wedge: 'none',
      footRestFolded: true,
    },
    attachment: { key: 'shin-pad', leverArmLength: quantity(0.3, 'm'), padMountedOn: 'arm' },
    stabilisation: {
      trunkStraps: 'both',
      thighStrap: 'firm',
      otherLimbStabiliser: 'used',
      lumbarSupport: 'none',
      hands: 'holding_handles',
    },
    seatDepthCheck: { calfToSeatGap: quantity(3.5, 'cm'), plannedFlexion: quantity(95, 'deg') },
    anatomicalZero: { reading: quantity(0, 'deg'), method: 'goniometer', afterLastAdjustment: 'yes' },
    stops: { extension: quantity(5, 'deg'), flexion: quantity(95, 'deg') },
    axisCheck: axisCheckAt(0, 0, 'none'),
    limbWeighing: {
      method: 'single_angle',
      limbAngleBelowHorizontal: quantity(35, 'deg'),
      torque: quantity(10.6, 'N.m'),
      armTared: 'no',
      afterLastAdjustment: 'yes',
    },
  }
}

/** Five exact readings of a pad on a 30 cm arm, for an axis of the knee so far off: by the geometry of the linkage. */
export function axisCheckAt(forwardMm: number, upMm: number, padTravel: 'none' | 'slight' | 'clear') {
  const armMm = 300
  const padPositions = [90, 70, 45, 20, 0].map((angleDeg) => {
    const [sin, cos] = [Math.sin((angleDeg * Math.PI) / 180), Math.cos((angleDeg * Math.PI) / 180)]
    const fromKneeMm =
      armMm * Math.cos(Math.asin((forwardMm * sin + upMm * cos) / armMm)) - forwardMm * cos + upMm * sin
    // Read from a mark 88 mm below the joint
    return { angle: quantity(angleDeg, 'deg'), position: quantity(fromKneeMm - 88, 'mm') }
  })
  return {
    landmark: 'lateral_femoral_condyle',
    status: 'performed',
    padTravel,
    padPositionReadFrom: 'skin_mark',
    readingError: quantity(1, 'mm'),
    padPositions,
  }
}

/** The same visit with a recording in each set instead of reported values. */
export function recorded(document: LooseDocument, seed = 1): LooseDocument {
  document.sets.forEach((set: LooseDocument, index: number) => {
    const sampleRateHz = 200
    const samples = sampleMovement({ extensionNm: 160, seed: seed + index, sampleRateHz })
    delete set.reported
    set.recording = {
      torquePositive: 'extension',
      anglePositive: 'flexion',
      readingAtAnatomicalZero: quantity(0, 'deg'),
      torqueState: 'measured',
      deviceFilter: 'none',
      deviceWindowing: 'none',
      sampleRate: quantity(sampleRateHz, 'Hz'),
      channels: [
        { name: 'torque', unit: 'N.m', values: samples.torqueNm },
        { name: 'angle', unit: 'deg', values: samples.angleDeg },
        { name: 'velocity', unit: 'deg/s', values: samples.velocityDegS },
      ],
    }
  })
  return document
}

/** What a client can see of an answer, without what differs between any two answers. */
export function seen({ status, headers, text }: Answer): unknown {
  const rest = { ...headers }
  for (const name of ['date', 'x-request-id', 'content-length']) delete rest[name]
  return { status, rest, text: text.replaceAll(/"requestId":"[0-9a-f-]{36}"/g, '"requestId":""') }
}

export async function sql<Row = LooseDocument>(
  service: TestService,
  text: string,
  values: readonly unknown[] = [],
): Promise<Row[]> {
  return withClient(service.database.adminUrl, async (client) => (await client.query(text, [...values])).rows as Row[])
}

const LOG_TABLES: readonly string[] = ['audit_event', 'audit_disclosure', 'audit_leaf', 'tree_head', 'security_event']

/** Rows of every table but those of the log. */
export async function rowCounts(service: TestService): Promise<Readonly<Record<string, number>>> {
  const tables = Object.keys(TABLE_CLASSES).filter((name) => !LOG_TABLES.includes(name))
  const text = tables.map((name) => `select '${name}' as name, count(*)::int as n from ${name}`).join(' union all ')
  const rows = await sql<{ name: string; n: number }>(service, text)
  return Object.fromEntries(rows.map(({ name, n }) => [name, n]))
}

export const codesOf = (flags: readonly LooseDocument[]): string[] => [...new Set(flags.map((flag) => String(flag.code)))].sort() // prettier-ignore

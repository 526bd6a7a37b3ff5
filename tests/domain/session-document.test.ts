/* eslint-disable @typescript-eslint/no-unsafe-member-access, @typescript-eslint/no-unsafe-assignment, @typescript-eslint/no-unsafe-call, @typescript-eslint/no-unsafe-return --
   documents are taken apart and broken on purpose */
import { describe, expect, it } from 'vitest'
import { z } from 'zod'
import { checkSession } from '../../src/domain/check-session.ts'
import type { FieldFault } from '../../src/domain/errors.ts'
import { jsonPointer } from '../../src/domain/json-pointer.ts'
import { sessionDocument } from '../../src/domain/session-document.ts'
import { reportedSession, shortSession as exampleSession } from '../fixtures/example-session.ts'
import type { LooseDocument } from '../fixtures/example-session.ts'

function faultsOf(document: unknown): readonly FieldFault[] {
  const checked = checkSession(document, 'session')
  return checked.ok ? [] : checked.faults
}

/** The example, changed; and its faults as "code pointer". */
function faultsAfter(change: (document: LooseDocument) => void): string[] {
  const document = exampleSession()
  change(document)
  return faultsOf(document).map(({ code, pointer }) => `${code} ${pointer}`)
}

type Path = (string | number)[]

/** Every member of every object of a document, sample arrays left alone. */
function* membersOf(value: unknown, path: Path = []): Generator<Path> {
  if (Array.isArray(value)) {
    if (typeof value[0] !== 'number')
      for (const [index, item] of value.entries()) yield* membersOf(item, [...path, index])
  } else if (typeof value === 'object' && value !== null) {
    for (const [key, member] of Object.entries(value)) {
      yield [...path, key]
      yield* membersOf(member, [...path, key])
    }
  }
}

function holderOf(document: LooseDocument, path: Path): LooseDocument {
  return path.slice(0, -1).reduce((holder: LooseDocument, step) => holder[step], document)
}

/** Fields of the example that a document may do without; everything else is required. */
const OPTIONAL = new Set([
  'episode',
  'dynamometer/descriptionVersion',
  'operator',
  'endedAt',
  'bodyMass',
  'screening',
  'screening/answers/*/note',
  'screening/pain',
  'screening/pain/before',
  'screening/pain/during',
  'screening/pain/after',
  'screening/effusion',
  'screening/effusion/*/after',
  'conditions',
  'conditions/warmUp',
  'conditions/warmUp/duration',
  'conditions/familiarisation',
  'conditions/verbalEncouragement',
  'conditions/visualFeedback',
  'conditions/limbOrder',
  'setups/*/settings',
  'setups/*/settings/backrestAngle',
  'setups/*/settings/seatDepth',
  'setups/*/settings/axisHeight',
  'setups/*/attachment',
  'setups/*/attachment/leverArmLength',
  'setups/*/attachment/padMountedOn',
  'setups/*/stabilisation',
  'setups/*/stabilisation/trunkStraps',
  'setups/*/stabilisation/thighStrap',
  'setups/*/stabilisation/otherLimbStabiliser',
  'setups/*/stabilisation/lumbarSupport',
  'setups/*/stabilisation/hands',
  'setups/*/seatDepthCheck',
  'setups/*/anatomicalZero',
  'setups/*/stops',
  'setups/*/stops/extension',
  'setups/*/stops/flexion',
  'setups/*/axisCheck',
  'setups/*/axisCheck/padTravel',
  'setups/*/axisCheck/padPositionReadFrom',
  'setups/*/axisCheck/readingError',
  'setups/*/axisCheck/padPositions',
  'setups/*/limbWeighing',
  'setups/*/notes',
  'sets/*/intendedRepetitions',
  'sets/*/restBefore',
  'sets/*/repetitionNotes',
  'functionalResults',
  'functionalResults/*/performedAt',
  'sets',
])

describe('the session document', () => {
  it('accepts the example whole and keeps every quantity beside its canonical form', () => {
    const checked = checkSession(exampleSession(), 'session')
    if (!checked.ok) expect.fail(JSON.stringify(checked.faults))
    const [leftKnee] = checked.session.setups
    expect(leftKnee?.settings?.['seatDepth']).toEqual({
      value: 42,
      unit: 'cm',
      canonicalValue: 0.42,
      canonicalUnit: 'm',
    })
    expect(checked.session.conditions?.warmUp?.duration).toMatchObject({ canonicalValue: 300, canonicalUnit: 's' })
  })

  const document = exampleSession()
  const members = [...membersOf(document)]
  it.each(members.map((path) => [path.join('/'), path] as const))('points at %s when it is missing', (_name, path) => {
    const changed = exampleSession()
    delete holderOf(changed, path)[path.at(-1)!]
    const faults = faultsOf(changed)
    const pattern = path.map((step) => (typeof step === 'number' ? '*' : step)).join('/')
    if (OPTIONAL.has(pattern)) {
      expect(faults).toEqual([])
      return
    }
    const field = jsonPointer(path)
    const holder = jsonPointer(path.slice(0, -1))
    const named = faults.filter(
      ({ pointer, code }) =>
        (pointer === field && code === 'missing') ||
        (pointer === holder && (code === 'exactly_one' || code === 'missing')) ||
        // Without the setups it is the sets that point at nothing
        (pattern === 'setups' && code === 'unknown_setup'),
    )
    expect(named.length, JSON.stringify(faults)).toBeGreaterThan(0)
  })

  it.each(members.map((path) => [path.join('/'), path] as const))('points at %s when it is misspelt', (_name, path) => {
    const changed = exampleSession()
    const key = String(path.at(-1))
    const holder = holderOf(changed, path)
    holder[`${key}X`] = holder[key]
    delete holder[key]
    const faults = faultsOf(changed)
    if (path.includes('settings') && path.at(-2) === 'settings') {
      // Settings are named by the clinic: which exist is its description's to say
      expect(faults).toEqual([])
      return
    }
    const reported = faults.map(({ code, pointer }) => `${code} ${pointer}`)
    if (path.at(-2) === 'limbWeighing' && key === 'method') {
      // Without it nobody can say which other fields belong here
      expect(reported).toEqual([`missing ${jsonPointer(path)}`])
      return
    }
    expect(reported).toContain(`unknown_field ${jsonPointer([...path.slice(0, -1), `${key}X`])}`)
  })

  it('reports faults of shape, unit, list and rule of different places together, each with its pointer', () => {
    const faults = faultsAfter((d) => {
      d.sets[2].recording.channels[0].unit = 'Nm'
      d.sets[0].setup = 'nowhere'
      d.bodyMass.unit = 'lb'
      d.conditions.limbOrder = 'uninvolved_frist'
      d.sets[1].reported.values[0].quantity.unit = 'J'
      d.functionalResults[0].trials[1].value = 'far'
      d.endedAt = '2026-11-17T08:00:00+01:00'
      d.colour = 'green'
    })
    expect(faults).toEqual(
      expect.arrayContaining([
        'unit_not_ucum #/sets/2/recording/channels/0/unit',
        'unknown_setup #/sets/0/setup',
        'unit_not_ucum #/bodyMass/unit',
        'not_in_list #/conditions/limbOrder',
        'unit_wrong_kind #/sets/1/reported/values/0/quantity/unit',
        'wrong_type #/functionalResults/0/trials/1/value',
        'not_after_start #/endedAt',
        'unknown_field #/colour',
      ]),
    )
    expect(faults).toHaveLength(8)
  })

  it('says of "Nm" what to write instead', () => {
    const changed = exampleSession()
    changed.sets[2].recording.channels[0].unit = 'Nm'
    expect(faultsOf(changed)).toEqual([
      {
        pointer: '#/sets/2/recording/channels/0/unit',
        code: 'unit_not_ucum',
        message: '"Nm" is not a UCUM unit. Write "N.m".',
        received: 'Nm',
        suggestion: 'N.m',
        accepted: ['N.m', 'N.cm', 'kgf.m', '[ft_i].[lbf_av]', '[in_i].[lbf_av]'],
      },
    ])
  })

  it('echoes units and words of a list, never names, identifiers or notes', () => {
    const changed = exampleSession()
    changed.subject = { identifier: { system: 'Secret Person', value: 7 }, id: 'Secret Person' }
    changed.setups[0].notes = { text: 'Secret Person' }
    changed.sets[0].key = 'Secret Person'
    changed.sets[1].setup = 'Secret Person'
    changed.startedAt = 'Secret Person'
    const faults = faultsOf(changed)
    expect(faults.length).toBeGreaterThan(5)
    expect(JSON.stringify(faults)).not.toContain('Secret')
  })

  it('lists the first 100 faults', () => {
    const changed = reportedSession()
    const [set] = changed.sets as LooseDocument[]
    changed.sets = Array.from({ length: 150 }, (_, i) => ({ ...structuredClone(set), key: `s${i}`, setup: 'nowhere' }))
    expect(faultsOf(changed)).toHaveLength(100)
  })

  it('accepts 200 sets and refuses 201', () => {
    const many = (count: number): LooseDocument => {
      const changed = reportedSession()
      const [set] = changed.sets as LooseDocument[]
      changed.sets = Array.from({ length: count }, (_, i) => ({ ...structuredClone(set), key: `s${i}` }))
      return changed
    }
    expect(faultsOf(many(200))).toEqual([])
    expect(faultsOf(many(201))).toMatchObject([{ code: 'too_many', pointer: '#/sets' }])
  })

  const rules: [what: string, change: (d: LooseDocument) => void, fault: string][] = [
    [
      'a subject by two references',
      (d) => (d.subject.id = '01a1e991-aa00-78b4-a652-e44da7f29e26'),
      'exactly_one #/subject',
    ],
    ['an id that is no UUID', (d) => (d.subject = { id: 'RB-20417' }), 'invalid_format #/subject/id'],
    ['a record reference for a person', (d) => (d.subject = d.episode), 'unknown_field #/subject/externalId'],
    ['a time without offset', (d) => (d.startedAt = '2026-11-17T09:05:00'), 'invalid_format #/startedAt'],
    ['an end before the start', (d) => (d.endedAt = '2026-11-17T09:04:59+01:00'), 'not_after_start #/endedAt'],
    [
      'an end at the start, in another offset',
      (d) => (d.endedAt = '2026-11-17T08:05:00Z'),
      'not_after_start #/endedAt',
    ],
    ['a visit of two days', (d) => (d.endedAt = '2026-11-19T09:05:00+01:00'), 'out_of_range #/endedAt'],
    ['a body mass of 684 kg', (d) => (d.bodyMass.value = 684), 'out_of_range #/bodyMass/value'],
    [
      'a body mass in pounds sent as kilograms of a child of 14',
      (d) => (d.bodyMass.value = 14),
      'out_of_range #/bodyMass/value',
    ],
    ['a body mass without unit', (d) => delete d.bodyMass.unit, 'missing #/bodyMass/unit'],
    ['a number as text', (d) => (d.bodyMass.value = '68.4'), 'wrong_type #/bodyMass/value'],
    ['pain of 11', (d) => (d.screening.pain.after.value = 11), 'out_of_range #/screening/pain/after/value'],
    ['an unknown list version', (d) => (d.screening.listVersion = '1999-1'), 'not_in_list #/screening/listVersion'],
    [
      'a question asked twice',
      (d) => d.screening.answers.push(d.screening.answers[0]),
      'not_unique #/screening/answers/3/question',
    ],
    [
      'an effusion graded twice',
      (d) => d.screening.effusion.push(d.screening.effusion[0]),
      'not_unique #/screening/effusion/1/joint',
    ],
    ['two setups of one key', (d) => (d.setups[1].key = 'left-knee'), 'not_unique #/setups/1/key'],
    ['two sets of one key', (d) => (d.sets[3].key = 'left-60'), 'not_unique #/sets/3/key'],
    [
      'two functional results of one key',
      (d) => (d.functionalResults[1].key = 'hop-l'),
      'not_unique #/functionalResults/1/key',
    ],
    ['a setup that is not there', (d) => (d.sets[1].setup = 'left-hip'), 'unknown_setup #/sets/1/setup'],
    [
      'a movement the joint has not',
      (d) => (d.sets[1].directions[0].movement = 'inversion'),
      'movement_not_of_joint #/sets/1/directions/0/movement',
    ],
    [
      'a stop of a movement the joint has not',
      (d) => (d.setups[0].stops.inversion = { value: 5, unit: 'deg' }),
      'movement_not_of_joint #/setups/0/stops/inversion',
    ],
    [
      'stops the wrong way round',
      (d) => (d.setups[0].stops.extension.value = 100),
      'stops_reversed #/setups/0/stops/flexion',
    ],
    ['a stop where no joint reaches', (d) => (d.setups[0].stops.flexion.value = 350), 'out_of_range #/setups/0/stops/flexion/value'], // prettier-ignore
    [
      'a planned stop of another joint',
      (d) => (d.setups[0].planned = { stops: { inversion: { value: 5, unit: 'deg' } } }),
      'movement_not_of_joint #/setups/0/planned/stops/inversion',
    ],
    [
      'planned stops the wrong way round',
      (d) => {
        delete d.setups[0].stops
        d.setups[0].planned = { stops: { extension: { value: 95, unit: 'deg' }, flexion: { value: 5, unit: 'deg' } } }
      },
      'stops_reversed #/setups/0/planned/stops/flexion',
    ],
    [
      'another attachment than the planned one, without a reason',
      (d) => (d.setups[0].planned = { attachment: 'thigh-pad' }),
      'deviation_without_reason #/setups/0/planned/attachment',
    ],
    [
      'a part left away that was planned, without a reason',
      (d) => {
        d.setups[0].optionalParts = { seatWedge: 'not_used' }
        d.setups[0].planned = { optionalParts: { seatWedge: 'used' } }
      },
      'deviation_without_reason #/setups/0/planned/optionalParts/seatWedge',
    ],
    ['a reciprocal set with one direction', (d) => d.sets[1].directions.pop(), 'too_few #/sets/1/directions'],
    [
      'a reciprocal set with one movement twice',
      (d) => (d.sets[1].directions[1].movement = 'extension'),
      'not_unique #/sets/1/directions/1/movement',
    ],
    [
      'a single-direction set that moves both ways',
      (d) => (d.sets[1].contractionScheme = 'single_direction'),
      'scheme_contradicted #/sets/1/directions/1/movement',
    ],
    [
      'an isokinetic direction without velocity',
      (d) => (d.sets[1].directions[0].velocity.value = 0),
      'out_of_range #/sets/1/directions/0/velocity/value',
    ],
    [
      'an isometric direction with velocity',
      (d) => (d.sets[1].directions[0].contractionMode = 'isometric'),
      'out_of_range #/sets/1/directions/0/velocity/value',
    ],
    [
      'isometric and isokinetic in one set',
      (d) => (d.sets[1].directions[1].contractionMode = 'isometric'),
      'modes_not_together #/sets/1/directions/1/contractionMode',
    ],
    [
      'a velocity of 6,000 deg/s',
      (d) => (d.sets[1].directions[0].velocity.value = 6000),
      'out_of_range #/sets/1/directions/0/velocity/value',
    ],
    ['recording and reported values at once', (d) => (d.sets[0].reported = d.sets[1].reported), 'exactly_one #/sets/0'],
    ['neither recording nor reported values', (d) => delete d.sets[0].recording, 'exactly_one #/sets/0'],
    ['channels and csv at once', (d) => (d.sets[2].recording.csv = 'x'), 'exactly_one #/sets/2/recording'],
    [
      'a channel twice',
      (d) => (d.sets[2].recording.channels[2].name = 'angle'),
      'not_unique #/sets/2/recording/channels/2/name',
    ],
    ['no torque', (d) => d.sets[2].recording.channels.shift(), 'missing #/sets/2/recording/channels'],
    [
      'channels of unequal length',
      (d) => d.sets[2].recording.channels[1].values.pop(),
      'unequal_lengths #/sets/2/recording/channels/1/values',
    ],
    [
      'a text among the samples',
      (d) => (d.sets[2].recording.channels[1].values[7] = '94.8'),
      'wrong_type #/sets/2/recording/channels/1/values/7',
    ],
    [
      'a null among the samples',
      (d) => (d.sets[2].recording.channels[0].values[0] = null),
      'wrong_type #/sets/2/recording/channels/0/values/0',
    ],
    [
      'velocity in a unit of angle',
      (d) => (d.sets[2].recording.channels[2].unit = 'deg'),
      'unit_wrong_kind #/sets/2/recording/channels/2/unit',
    ],
    [
      'torque in newtons',
      (d) => (d.sets[2].recording.channels[0].unit = 'N'),
      'unit_wrong_kind #/sets/2/recording/channels/0/unit',
    ],
    [
      'neither sample rate nor time',
      (d) => delete d.sets[2].recording.sampleRate,
      'missing #/sets/2/recording/sampleRate',
    ],
    [
      'a sample rate of 49 Hz',
      (d) => (d.sets[2].recording.sampleRate.value = 49),
      'out_of_range #/sets/2/recording/sampleRate/value',
    ],
    [
      'a sample rate of 6 kHz',
      (d) => (d.sets[2].recording.sampleRate = { value: 6, unit: 'kHz' }),
      'out_of_range #/sets/2/recording/sampleRate/value',
    ],
    [
      'a sign that follows another pair',
      (d) => (d.sets[2].recording.torquePositive = 'eversion'),
      'movement_not_of_set #/sets/2/recording/torquePositive',
    ],
    [
      'an unsigned angle',
      (d) => (d.sets[2].recording.anglePositive = 'unsigned'),
      'not_in_list #/sets/2/recording/anglePositive',
    ],
    [
      'unsigned torque in an eccentric set',
      (d) => {
        d.sets[2].recording.torquePositive = 'unsigned'
        d.sets[2].directions[0].contractionMode = 'isokinetic_eccentric'
      },
      'unsigned_not_concentric #/sets/2/recording/torquePositive',
    ],
    [
      'a repetition noted twice',
      (d) => d.sets[2].repetitionNotes.push(d.sets[2].repetitionNotes[0]),
      'not_unique #/sets/2/repetitionNotes/1/repetition',
    ],
    [
      'a note on repetition 0',
      (d) => (d.sets[2].repetitionNotes[0].repetition = 0),
      'out_of_range #/sets/2/repetitionNotes/0/repetition',
    ],
    [
      'a note on repetition 6 of 5 reported',
      (d) => (d.sets[1].repetitionNotes = [{ repetition: 6, count: 'no', reason: 'pain' }]),
      'out_of_range #/sets/1/repetitionNotes/0/repetition',
    ],
    [
      'a broken number of repetitions',
      (d) => (d.sets[1].intendedRepetitions = 2.5),
      'not_an_integer #/sets/1/intendedRepetitions',
    ],
    [
      'a reported value of another movement',
      (d) => (d.sets[1].reported.values[0].movement = 'eversion'),
      'movement_not_of_set #/sets/1/reported/values/0/movement',
    ],
    [
      'a value reported twice',
      (d) => d.sets[1].reported.values.push(d.sets[1].reported.values[0]),
      'not_unique #/sets/1/reported/values/2/measure',
    ],
    [
      'a negative peak torque',
      (d) => (d.sets[1].reported.values[0].quantity.value = -87),
      'out_of_range #/sets/1/reported/values/0/quantity/value',
    ],
    [
      'the total of peak torques',
      (d) => (d.sets[1].reported.values[0].statistic = 'total'),
      'statistic_not_of_measure #/sets/1/reported/values/0/statistic',
    ],
    [
      'torque at no angle',
      (d) => (d.sets[1].reported.values[0].measure = 'torqueAtAngle'),
      'missing #/sets/1/reported/values/0/angle',
    ],
    [
      'a percentage of body weight',
      (d) =>
        (d.sets[1].reported.values[0] = {
          movement: 'extension',
          measure: 'peakTorquePerBodyMass',
          statistic: 'best',
          quantity: { value: 250, unit: '%' },
        }),
      'unit_bare_percent_refused #/sets/1/reported/values/0/quantity/unit',
    ],
    [
      'work in newton metres',
      (d) => (d.sets[1].reported.values[0].measure = 'workPerRepetition'),
      'unit_wrong_kind #/sets/1/reported/values/0/quantity/unit',
    ],
    [
      'an axis check not performed without why',
      (d) => delete d.setups[0].axisCheck.reason,
      'missing #/setups/0/axisCheck/reason',
    ],
    [
      'an axis check not performed with a finding',
      (d) => (d.setups[0].axisCheck.padTravel = 'none'),
      'not_applicable #/setups/0/axisCheck/padTravel',
    ],
    [
      'a performed axis check without a finding',
      (d) => {
        delete d.setups[1].axisCheck.padTravel
        delete d.setups[1].axisCheck.padPositions
      },
      'missing #/setups/1/axisCheck/padTravel',
    ],
    [
      'an unknown way of weighing',
      (d) => (d.setups[0].limbWeighing.method = 'guess'),
      'not_in_list #/setups/0/limbWeighing/method',
    ],
    [
      'a setting that is neither quantity, mark, choice nor yes/no',
      (d) => (d.setups[0].settings.seatDepth = [1]),
      'wrong_type #/setups/0/settings/seatDepth',
    ],
    [
      'a setting without unit',
      (d) => delete d.setups[0].settings.seatDepth.unit,
      'missing #/setups/0/settings/seatDepth/unit',
    ],
    [
      'a scale mark without its scale',
      (d) => (d.setups[0].settings.seatDepth = { mark: 'F' }),
      'missing #/setups/0/settings/seatDepth/scale',
    ],
    [
      'a setting whose name has a blank',
      (d) => (d.setups[0].settings['seat depth'] = true),
      'invalid_format #/setups/0/settings/seat%20depth',
    ],
    ['sets without a dynamometer', (d) => delete d.dynamometer, 'missing #/dynamometer'],
    [
      'an observation in the words of another one',
      (d) =>
        d.functionalResults.push({ key: 'field', test: 'on_field_rehabilitation', observation: 'within_reference' }),
      'not_in_list #/functionalResults/8/observation',
    ],
    ['a hop without side', (d) => delete d.functionalResults[0].side, 'missing #/functionalResults/0/side'],
    ['a run with a side', (d) => (d.functionalResults[6].side = 'left'), 'not_applicable #/functionalResults/6/side'],
    [
      'a hop of 155 m',
      (d) => (d.functionalResults[0].trials[0].unit = 'm'),
      'out_of_range #/functionalResults/0/trials/0/value',
    ],
    [
      'a hop in seconds',
      (d) => (d.functionalResults[0].trials[0].unit = 's'),
      'unit_wrong_kind #/functionalResults/0/trials/0/unit',
    ],
    [
      'a questionnaire with trials',
      (d) => (d.functionalResults[7].trials = [{ value: 1, unit: '{score}' }]),
      'not_applicable #/functionalResults/7/trials',
    ],
    [
      'a questionnaire without its form',
      (d) => delete d.functionalResults[7].formVersion,
      'missing #/functionalResults/7/formVersion',
    ],
    [
      'a questionnaire in another form',
      (d) => (d.functionalResults[7].formVersion = '13_items'),
      'not_in_list #/functionalResults/7/formVersion',
    ],
    [
      'a total above its scale',
      (d) => (d.functionalResults[7].total.value = 101),
      'out_of_range #/functionalResults/7/total/value',
    ],
    ['an empty text', (d) => (d.setups[1].notes = ''), 'invalid_length #/setups/1/notes'],
    ['a session that is an array', (d) => (d.setups = { 0: d.setups[0] }), 'wrong_type #/setups'],
  ]
  it.each(rules)('refuses %s', (_what, change, fault) => {
    expect(faultsAfter(change)).toContain(fault)
  })

  const accepted: [what: string, change: (d: LooseDocument) => void][] = [
    [
      'the four kinds of setting',
      (d) =>
        (d.setups[0].settings = {
          a: { value: 1, unit: 'rad' },
          b: { scale: 'rail', mark: 'F' },
          c: 'prone',
          d: false,
        }),
    ],
    [
      'one muscle tested concentrically and eccentrically',
      (d) => {
        d.sets[1].contractionScheme = 'single_direction'
        d.sets[1].directions[1] = { ...d.sets[1].directions[0], contractionMode: 'isokinetic_eccentric' }
        d.sets[1].reported.values = [{ ...d.sets[1].reported.values[0], contractionMode: 'isokinetic_eccentric' }]
      },
    ],
    [
      'a set of isometric contractions',
      (d) => {
        d.sets[1].directions = d.sets[1].directions.map((each: LooseDocument) => ({
          ...each,
          contractionMode: 'isometric',
          velocity: { value: 0, unit: 'deg/s' },
        }))
      },
    ],
    [
      'torque in foot-pounds',
      (d) => (d.sets[1].reported.values[0].quantity = { value: 64.5, unit: '[ft_i].[lbf_av]' }),
    ],
    [
      'a weighing that was not performed',
      (d) => (d.setups[0].limbWeighing = { method: 'not_performed', reason: 'time' }),
    ],
    [
      'a question asked of each side',
      (d) => {
        d.screening.answers.push(
          { question: 'open_wound_under_pad', side: 'left', answer: 'no' },
          { question: 'open_wound_under_pad', side: 'right', answer: 'yes' },
        )
      },
    ],
    [
      'an observation',
      (d) => d.functionalResults.push({ key: 'field', test: 'on_field_rehabilitation', observation: 'completed' }),
    ],
    [
      'another attachment and another part than planned, with their reasons',
      (d) => {
        d.setups[0].optionalParts = { seatWedge: 'not_used', footRest: 'not_recorded' }
        d.setups[0].planned = { attachment: 'thigh-pad', optionalParts: { seatWedge: 'used', footRest: 'used' } }
        d.setups[0].deviations = [
          { of: 'attachment', reason: 'pain_or_discomfort' },
          { of: 'optionalParts/seatWedge', reason: 'equipment' },
        ]
      },
    ],
    [
      'a visit at which nothing was tested',
      (d) => {
        d.sets = []
        d.functionalResults = []
      },
    ],
  ]
  it.each(accepted)('accepts %s', (_what, change) => {
    expect(faultsAfter(change)).toEqual([])
  })

  it.each([[null], [[]], ['x'], [1], [{}]])('refuses %j with faults, not with an exception', (document) => {
    expect(faultsOf(document).length).toBeGreaterThan(0)
    expect(checkSession(document, 'amendment').ok).toBe(false)
  })

  it('points into the session of an amendment', () => {
    const session = exampleSession()
    session.bodyMass.unit = 'lbs'
    session.sets[0].setup = 'nowhere'
    const checked = checkSession({ reason: 'Wrong unit.', session }, 'amendment')
    expect(checked.ok ? [] : checked.faults.map(({ pointer }) => pointer)).toEqual([
      '#/session/bodyMass/unit',
      '#/session/sets/0/setup',
    ])
    expect(checkSession({ reason: 'Wrong side.', session: exampleSession() }, 'amendment')).toMatchObject({
      ok: true,
      amendmentReason: 'Wrong side.',
    })
  })

  it('describes itself as JSON Schema for the interface description', () => {
    const schema = z.toJSONSchema(sessionDocument, { io: 'input' }) as LooseDocument
    const recording = schema.properties.sets.items.properties.recording.properties
    expect(recording.channels.items.properties.values).toEqual({ type: 'array', items: { type: 'number' } })
    expect(schema.additionalProperties).toBe(false)
    expect(schema.properties.bodyMass.properties.unit.enum).toEqual(['kg', 'g', '[lb_av]'])
  })
})

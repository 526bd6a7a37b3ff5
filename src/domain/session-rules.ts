/**
 * The rules between the fields of a session document. They read the parsed JSON, not the checked shape, and each looks only at
 * what it needs: so a misspelt unit in one set does not hide that another set names a setup which is not there.
 */
import { MEASURE_UNITS, movementPair, unitKind } from '../compute/index.ts'
import type { Movement } from '../compute/index.ts'
import { FUNCTIONAL_TEST_BY_CODE, JOINT_MOVEMENTS, MEASURES, MOVEMENTS } from './code-lists.ts'
import type { FieldFault } from './errors.ts'
import { jsonPointer } from './json-pointer.ts'
import type { JsonPath } from './json-pointer.ts'
import { checkDeviations } from './planned-setup-rules.ts'
import { canonicalValueOf, unitFault } from './quantities.ts'
import { CHANNEL_KINDS, SESSION_LIMITS } from './session-document.ts'

type Fields = Readonly<Record<string, unknown>>
/** Where a fault lies, its code and its sentence. */
export type Report = (path: JsonPath, code: string, message: string, more?: Partial<FieldFault>) => void

/**
 * Every broken rule of the document, in document order. `at` is put before each path, for a document inside another; `now` is the
 * clock that times are held against.
 */
export function sessionRuleFaults(document: unknown, at: JsonPath = [], now?: Date): readonly FieldFault[] {
  const faults: FieldFault[] = []
  const report: Report = (path, code, message, more = {}) => {
    faults.push({ pointer: jsonPointer([...at, ...path]), code, message, ...more })
  }
  const session = fieldsOf(document)
  const setups = itemsOf(session['setups'])
  const sets = itemsOf(session['sets'])
  const functionalResults = itemsOf(session['functionalResults'])

  checkTimes(session, report)
  if (now !== undefined) refuseTheFuture(session, functionalResults, now, report)
  if (sets.length > 0 && session['dynamometer'] === undefined) {
    report(['dynamometer'], 'missing', 'A session with sets names the dynamometer.')
  }
  if (session['repeatOf'] !== undefined && session['purpose'] !== 'repeat_test') {
    report(['repeatOf'], 'not_applicable', 'Only a repeat_test repeats another session.')
  }
  checkScreening(fieldsOf(session['screening']), report)
  checkUniqueKeys('setups', setups, report)
  setups.forEach((setup, index) => checkSetup(setup, ['setups', index], report))
  checkUniqueKeys('sets', sets, report)
  sets.forEach((set, index) => checkSet(set, setups, ['sets', index], report))
  checkUniqueKeys('functionalResults', functionalResults, report)
  functionalResults.forEach((result, index) => checkFunctionalResult(result, ['functionalResults', index], report))
  return faults
}

/** The rules inside one setup, for a setup on its own. */
export function setupRuleFaults(setup: unknown, at: JsonPath): readonly FieldFault[] {
  const faults: FieldFault[] = []
  const report: Report = (path, code, message, more = {}) => {
    faults.push({ pointer: jsonPointer(path), code, message, ...more })
  }
  checkSetup(fieldsOf(setup), at, report)
  return faults
}

function checkTimes(session: Fields, report: Report): void {
  const startedAt = timeOf(session['startedAt'])
  const endedAt = timeOf(session['endedAt'])
  if (startedAt === null || endedAt === null) return
  if (endedAt <= startedAt) report(['endedAt'], 'not_after_start', 'A session ends after it starts.')
  else if (endedAt - startedAt > 24 * 3_600_000)
    report(['endedAt'], 'out_of_range', 'One visit lasts at most 24 hours.')
}

/** Clocks disagree and offsets are mistaken by hours; a day ahead is a wrong date, and would govern as the latest test for ever. */
const CLOCK_TOLERANCE_MS = 24 * 3_600_000

/** Of one time: null where it is none, or not ahead of the clock. */
export function futureFault(sent: unknown, path: JsonPath, now: Date): FieldFault | null {
  const time = timeOf(sent)
  if (time === null || time <= now.getTime() + CLOCK_TOLERANCE_MS) return null
  const message = 'This lies more than 24 hours ahead of the clock of this service.'
  return { pointer: jsonPointer(path), code: 'in_the_future', message }
}

function refuseTheFuture(session: Fields, functionalResults: readonly Fields[], now: Date, report: Report): void {
  const times: [JsonPath, unknown][] = [
    [['startedAt'], session['startedAt']],
    ...functionalResults.map((result, i): [JsonPath, unknown] => [
      ['functionalResults', i, 'performedAt'],
      result['performedAt'],
    ]),
  ]
  for (const [path, sent] of times) {
    const fault = futureFault(sent, path, now)
    if (fault !== null) report(path, fault.code, fault.message)
  }
}

function checkScreening(screening: Fields, report: Report): void {
  checkUnique(itemsOf(screening['answers']), ['question', 'side'], ['screening', 'answers'], 'question', report)
  checkUnique(itemsOf(screening['effusion']), ['joint', 'side'], ['screening', 'effusion'], 'joint', report)
}

function checkSetup(setup: Fields, path: JsonPath, report: Report): void {
  const { joint } = setup
  checkStops(setup['stops'], joint, [...path, 'stops'], report)
  checkStops(fieldsOf(setup['planned'])['stops'], joint, [...path, 'planned', 'stops'], report)
  checkDeviations(setup, path, report)
  if (setup['axisCheck'] !== undefined) checkAxisCheck(fieldsOf(setup['axisCheck']), [...path, 'axisCheck'], report)
}

/** Stops of movements that the joint has, the right way round. */
export function checkStops(sent: unknown, joint: unknown, path: JsonPath, report: Report): void {
  const movements = movementsOfJoint(joint)
  const stops = fieldsOf(sent)
  for (const movement of Object.keys(stops)) {
    if (movements.length > 0 && isMovement(movement) && !movements.includes(movement)) {
      report([...path, movement], 'movement_not_of_joint', 'This joint has no such movement.', { accepted: movements })
    }
  }
  for (const [first, second] of pairsOfJoint(joint)) {
    const low = canonicalValueOf(stops[first], 'angle')
    const high = canonicalValueOf(stops[second], 'angle')
    if (low !== null && high !== null && low >= high) {
      const message = `The stop of ${second} must be at a larger angle than the stop of ${first}.`
      report([...path, second], 'stops_reversed', message)
    }
  }
}

function checkAxisCheck(check: Fields, path: JsonPath, report: Report): void {
  const findings = [
    'afterLastAdjustment',
    'padTravel',
    'padTravelDirection',
    'padPositionReadFrom',
    'readingError',
    'padPositions',
  ]
  if (check['status'] === 'not_performed') {
    if (check['reason'] === undefined)
      report([...path, 'reason'], 'missing', 'A check that was not performed says why.')
    for (const name of findings) {
      if (check[name] !== undefined) report([...path, name], 'not_applicable', 'The check was not performed.')
    }
  }
  if (check['status'] === 'performed') {
    if (check['reason'] !== undefined) report([...path, 'reason'], 'not_applicable', 'The check was performed.')
    if (check['padTravel'] === undefined && check['padPositions'] === undefined) {
      report([...path, 'padTravel'], 'missing', 'A performed check says how the pad travelled, or its positions.')
    }
  }
}

function checkSet(set: Fields, setups: readonly Fields[], path: JsonPath, report: Report): void {
  const setup = setups.find((each) => typeof each['key'] === 'string' && each['key'] === set['setup'])
  if (typeof set['setup'] === 'string' && setup === undefined) {
    report([...path, 'setup'], 'unknown_setup', 'No setup of this document has this key.')
  }
  checkDirections(set, setup?.['joint'], path, report)
  checkRepetitionNotes(set, path, report)

  const given = ['recording', 'reported'].filter((name) => set[name] !== undefined)
  if (given.length !== 1) report(path, 'exactly_one', 'A set has either a recording or reported values.')
  if (set['recording'] !== undefined) checkRecording(set, [...path, 'recording'], report)
  if (set['reported'] !== undefined) checkReported(set, [...path, 'reported'], report)
}

/** Directions that the joint and the machine can do, and that go together in one set. */
export function checkDirections(set: Fields, joint: unknown, path: JsonPath, report: Report): void {
  const movements = movementsOfJoint(joint)
  const directions = itemsOf(set['directions'])
  directions.forEach((direction, index) => {
    const at = [...path, 'directions', index]
    const { movement, contractionMode } = direction
    if (isMovement(movement) && movements.length > 0 && !movements.includes(movement)) {
      const message = 'The joint of the setup has no such movement.'
      report([...at, 'movement'], 'movement_not_of_joint', message, { accepted: movements })
    }
    const velocity = canonicalValueOf(direction['velocity'], 'angular_velocity')
    if (velocity === null || typeof contractionMode !== 'string') return
    if (contractionMode === 'isometric' && velocity !== 0) {
      report([...at, 'velocity', 'value'], 'out_of_range', 'An isometric direction has velocity 0.')
    }
    if (contractionMode.startsWith('isokinetic') && velocity === 0) {
      report([...at, 'velocity', 'value'], 'out_of_range', 'An isokinetic direction has a velocity above 0.')
    }
  })

  const [one, two] = directions
  if (set['contractionScheme'] === 'reciprocal' && directions.length === 1) {
    report([...path, 'directions'], 'too_few', 'A reciprocal set has two directions.')
  }
  if (one === undefined || two === undefined || !isMovement(one['movement']) || !isMovement(two['movement'])) return
  const at = [...path, 'directions', 1]
  const samePair = movementPair(one['movement']) === movementPair(two['movement'])
  const sameMovement = one['movement'] === two['movement']
  if (!samePair) {
    const accepted = [...movementPair(one['movement'])]
    report([...at, 'movement'], 'movements_not_a_pair', 'The two directions of a set belong to one pair.', { accepted })
  } else if (set['contractionScheme'] === 'reciprocal' && sameMovement) {
    report([...at, 'movement'], 'not_unique', 'A reciprocal set moves in two different directions.')
  } else if (set['contractionScheme'] === 'single_direction' && !sameMovement) {
    report([...at, 'movement'], 'scheme_contradicted', 'A single-direction set tests one movement.')
  } else if ((one['contractionMode'] === 'isometric') !== (two['contractionMode'] === 'isometric')) {
    report([...at, 'contractionMode'], 'modes_not_together', 'Isometric and isokinetic directions are separate sets.')
  } else if (sameMovement && one['contractionMode'] === two['contractionMode']) {
    report([...at, 'contractionMode'], 'not_unique', 'One movement is tested in each contraction mode once.')
  }
}

function checkRepetitionNotes(set: Fields, path: JsonPath, report: Report): void {
  const notes = itemsOf(set['repetitionNotes'])
  checkUnique(notes, ['repetition'], [...path, 'repetitionNotes'], 'repetition', report)
  const intended = set['intendedRepetitions']
  if (set['reported'] === undefined || typeof intended !== 'number') return
  notes.forEach((note, index) => {
    if (typeof note['repetition'] === 'number' && note['repetition'] > intended) {
      const message = `The set has ${intended} repetitions.`
      report([...path, 'repetitionNotes', index, 'repetition'], 'out_of_range', message)
    }
  })
}

function checkRecording(set: Fields, path: JsonPath, report: Report): void {
  const recording = fieldsOf(set['recording'])
  const directions = itemsOf(set['directions'])
  const [movement] = directions.map((direction) => direction['movement']).filter(isMovement)
  const pair: readonly unknown[] = movement === undefined ? [] : movementPair(movement)
  for (const name of ['torquePositive', 'anglePositive']) {
    const positive = recording[name]
    if (isMovement(positive) && pair.length > 0 && !pair.includes(positive)) {
      const accepted = [...pair.map(String), ...(name === 'torquePositive' ? ['unsigned'] : [])]
      report([...path, name], 'movement_not_of_set', 'The sign follows one of the movements of the set.', { accepted })
    }
  }
  const concentric = directions.every((direction) => direction['contractionMode'] === 'isokinetic_concentric')
  if (recording['torquePositive'] === 'unsigned' && !concentric) {
    const message = 'Unsigned torque can be told apart in concentric sets only.'
    report([...path, 'torquePositive'], 'unsigned_not_concentric', message)
  }

  const sources = ['channels', 'csv', 'storedSha256'].filter((name) => recording[name] !== undefined)
  if (sources.length !== 1) report(path, 'exactly_one', 'A recording has exactly one of channels, csv, storedSha256.')
  if (recording['storedSha256'] !== undefined && recording['sampleRate'] !== undefined) {
    report([...path, 'sampleRate'], 'not_applicable', 'The stored recording says when; leave the sampleRate out.')
  }
  if (recording['channels'] !== undefined) checkChannels(recording, path, report)
}

function checkChannels(recording: Fields, path: JsonPath, report: Report): void {
  const channels = itemsOf(recording['channels'])
  checkUnique(channels, ['name'], [...path, 'channels'], 'name', report)
  let numbers = 0
  let firstLength: number | null = null
  channels.forEach((channel, index) => {
    const at = [...path, 'channels', index]
    const { name, unit, values } = channel
    if (isChannelName(name) && typeof unit === 'string') {
      const fault = unitFault(unit, CHANNEL_KINDS[name])
      if (fault !== null) report([...at, 'unit'], fault.code, fault.message, fault)
    }
    const encodings = ['values', 'f32leBase64'].filter((encoding) => channel[encoding] !== undefined)
    if (encodings.length !== 1) report(at, 'exactly_one', 'A channel has either values or f32leBase64.')
    if (Array.isArray(values)) {
      numbers += values.length
      firstLength ??= values.length
      if (values.length !== firstLength) {
        report([...at, 'values'], 'unequal_lengths', 'All channels of a recording have the same number of samples.')
      }
    }
  })
  if (numbers > SESSION_LIMITS.valuesPerRecording) {
    const message = `A recording may have ${SESSION_LIMITS.valuesPerRecording} numbers as values; send a longer one as csv or f32leBase64.`
    report([...path, 'channels'], 'too_many', message)
  }
  const names = channels.map((channel) => channel['name'])
  for (const required of ['torque', 'angle']) {
    if (!names.includes(required)) report([...path, 'channels'], 'missing', `The channel ${required} is required.`)
  }
  const clocks = [names.includes('time'), recording['sampleRate'] !== undefined].filter(Boolean).length
  if (clocks === 0) report([...path, 'sampleRate'], 'missing', 'A recording has a sampleRate or a channel time.')
  if (clocks === 2)
    report([...path, 'sampleRate'], 'not_applicable', 'The channel time says when; leave the sampleRate out.')
}

function checkReported(set: Fields, path: JsonPath, report: Report): void {
  const directions = itemsOf(set['directions'])
  const values = itemsOf(fieldsOf(set['reported'])['values'])
  const identity = ['movement', 'contractionMode', 'measure', 'statistic', 'angle']
  checkUnique(values, identity, [...path, 'values'], 'measure', report)
  values.forEach((value, index) => checkReportedValue(value, directions, [...path, 'values', index], report))
}

const SET_INDICES = ['totalWork', 'fatigueIndexEdges', 'workFatigueThirds', 'fatigueSlope']
const MAY_BE_NEGATIVE = ['angleOfPeakTorque', 'fatigueIndexEdges', 'workFatigueThirds', 'fatigueSlope']

function checkReportedValue(value: Fields, directions: readonly Fields[], path: JsonPath, report: Report): void {
  const { movement, contractionMode, measure, statistic } = value
  if (isMovement(movement) && directions.length > 0) {
    const ofMovement = directions.filter((direction) => direction['movement'] === movement)
    if (ofMovement.length === 0) {
      const accepted = directions.map((direction) => direction['movement']).filter(isMovement)
      report([...path, 'movement'], 'movement_not_of_set', 'The set has no such direction.', { accepted })
    } else if (contractionMode === undefined && ofMovement.length > 1) {
      report([...path, 'contractionMode'], 'missing', 'The set tests this movement in two contraction modes.')
    } else if (
      contractionMode !== undefined &&
      !ofMovement.some((each) => each['contractionMode'] === contractionMode)
    ) {
      report([...path, 'contractionMode'], 'movement_not_of_set', 'The set does not test the movement in this mode.')
    }
  }
  if (!isMeasure(measure)) return

  const kind = unitKind(MEASURE_UNITS[measure])
  const quantity = fieldsOf(value['quantity'])
  if (typeof quantity['unit'] === 'string' && kind !== null) {
    const fault = unitFault(quantity['unit'], kind)
    // A text that is no unit at all has been refused by the shape
    if (fault !== null && fault.code !== 'unit_not_ucum')
      report([...path, 'quantity', 'unit'], fault.code, fault.message, fault)
  }
  if (typeof quantity['value'] === 'number' && quantity['value'] < 0 && !MAY_BE_NEGATIVE.includes(measure)) {
    report([...path, 'quantity', 'value'], 'out_of_range', 'This measure is a magnitude: 0 or more.')
  }
  const accepted = SET_INDICES.includes(measure) ? ['total'] : ['best', 'mean']
  if (typeof statistic === 'string' && !accepted.includes(statistic)) {
    report([...path, 'statistic'], 'statistic_not_of_measure', 'This measure has no such statistic.', { accepted })
  }
  if (measure === 'torqueAtAngle' && value['angle'] === undefined) {
    report([...path, 'angle'], 'missing', 'Torque at an angle says at which.')
  }
  if (measure !== 'torqueAtAngle' && value['angle'] !== undefined) {
    report([...path, 'angle'], 'not_applicable', 'Only torqueAtAngle has an angle.')
  }
}

function checkFunctionalResult(result: Fields, path: JsonPath, report: Report): void {
  const test = FUNCTIONAL_TEST_BY_CODE.get(String(result['test']))
  if (test === undefined) return
  if (test.sided === 'yes' && result['side'] === undefined) {
    report([...path, 'side'], 'missing', 'This test is done on one side: say which.')
  }
  if (test.sided === 'no' && result['side'] !== undefined) {
    report([...path, 'side'], 'not_applicable', 'This test has no side.')
  }
  const forms = { trials: 'trials', total: 'total', observation: 'observation' } as const
  for (const form of Object.values(forms)) {
    if (form === test.form && result[form] === undefined) {
      report([...path, form], 'missing', `This test is recorded as ${form}.`)
    }
    if (form !== test.form && result[form] !== undefined) {
      report([...path, form], 'not_applicable', `This test is recorded as ${test.form}.`)
    }
  }
  const { observation } = result
  if (test.observations !== undefined && typeof observation === 'string' && !test.observations.includes(observation)) {
    report([...path, 'observation'], 'not_in_list', 'This word does not answer this test.', { accepted: test.observations }) // prettier-ignore
  }
  checkFormVersion(result, test.formVersions, path, report)
  if (test.kind === null) return
  const quantities: [JsonPath, unknown][] =
    test.form === 'total'
      ? [[[...path, 'total'], result['total']]]
      : itemsOf(result['trials']).map((trial, index) => [[...path, 'trials', index], trial])
  for (const [at, quantity] of quantities) {
    const unit = fieldsOf(quantity)['unit']
    if (typeof unit !== 'string') continue
    const fault = unitFault(unit, test.kind)
    if (fault !== null && fault.code !== 'unit_not_ucum') report([...at, 'unit'], fault.code, fault.message, fault)
    const canonical = canonicalValueOf(quantity, test.kind)
    if (canonical !== null && (canonical < (test.min ?? -Infinity) || canonical > (test.max ?? Infinity))) {
      report([...at, 'value'], 'out_of_range', `Between ${test.min} and ${test.max} is expected of this test.`)
    }
  }
}

function checkFormVersion(
  result: Fields,
  versions: readonly string[] | undefined,
  path: JsonPath,
  report: Report,
): void {
  const version = result['formVersion']
  if (versions === undefined) {
    if (version !== undefined) report([...path, 'formVersion'], 'not_applicable', 'This test has one form only.')
  } else if (version === undefined) {
    report([...path, 'formVersion'], 'missing', 'This test has several forms: say which.', { accepted: versions })
  } else if (typeof version === 'string' && !versions.includes(version)) {
    report([...path, 'formVersion'], 'not_in_list', 'This form is not in the list.', { accepted: versions })
  }
}

function checkUniqueKeys(list: string, items: readonly Fields[], report: Report): void {
  checkUnique(items, ['key'], [list], 'key', report)
}

/** Items whose named fields are all equal to those of an earlier one; items that lack the first of them are skipped. */
function checkUnique(
  items: readonly Fields[],
  by: readonly string[],
  path: JsonPath,
  blame: string,
  report: Report,
): void {
  const seen = new Set<string>()
  items.forEach((item, index) => {
    if (item[by[0] ?? ''] === undefined) return
    const identity = JSON.stringify(by.map((name) => item[name] ?? null))
    if (seen.has(identity)) report([...path, index, blame], 'not_unique', 'This occurs twice in the list.')
    seen.add(identity)
  })
}

function fieldsOf(value: unknown): Fields {
  return typeof value === 'object' && value !== null && !Array.isArray(value) ? (value as Fields) : {}
}

function itemsOf(value: unknown): readonly Fields[] {
  return Array.isArray(value) ? value.map(fieldsOf) : []
}

function timeOf(value: unknown): number | null {
  const time = typeof value === 'string' ? Date.parse(value) : NaN
  return Number.isNaN(time) ? null : time
}

function isMovement(value: unknown): value is Movement {
  return typeof value === 'string' && (MOVEMENTS as readonly string[]).includes(value)
}

function isMeasure(value: unknown): value is (typeof MEASURES)[number] {
  return typeof value === 'string' && (MEASURES as readonly string[]).includes(value)
}

function isChannelName(value: unknown): value is keyof typeof CHANNEL_KINDS {
  return typeof value === 'string' && Object.hasOwn(CHANNEL_KINDS, value)
}

function pairsOfJoint(joint: unknown): readonly (readonly [Movement, Movement])[] {
  return typeof joint === 'string' && Object.hasOwn(JOINT_MOVEMENTS, joint)
    ? JOINT_MOVEMENTS[joint as keyof typeof JOINT_MOVEMENTS]
    : []
}

function movementsOfJoint(joint: unknown): readonly Movement[] {
  return pairsOfJoint(joint).flat()
}

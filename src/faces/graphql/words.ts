/**
 * What the schema says of each type and field. A shape's own words come first, since REST shows them as well; what a shape leaves
 * unsaid is looked up here by type and field, then by the field's name alone where it means the same wherever it stands. A
 * document and the record made of it are one entry: SetupInput and SetupAsSent are both found under Setup.
 */
import { day, id, instant, plainQuantity } from '../shapes/common.ts'
import { JUDGEMENT_WORDS } from './words-judgement.ts'
import { MEASURE_WORDS } from './words-measures.ts'
import { RECORD_WORDS } from './words-records.ts'
import { TEST_WORDS } from './words-tests.ts'

type Words = Readonly<Record<string, string>>

/** By `Type` and by `Type.field`. */
export const OWN_WORDS: Words = { ...RECORD_WORDS, ...TEST_WORDS, ...JUDGEMENT_WORDS }

/** By the name of a field, in whatever type. */
export const SHARED_WORDS: Words = {
  ...MEASURE_WORDS,
  id: 'Id of this record, a UUID; stays the same in every version',
  version: 'Number of the version, from 1; each edit or amendment is a new one',
  externalId: 'Id in the system that sent it: the system and the value there; null: it has none',
  subjectId: 'Id of the person who is tested',
  episodeId: 'Id of the course of rehabilitation; null: it belongs to none',
  sessionId: 'Id of the visit',
  resultId: 'Id of the result: one limb, one direction, one set',
  dynamometerId: 'Id of the machine; null: none is named',
  operatorId: 'Id of the principal who ran the tests; null: none is named',
  scope: 'Whose tests the clinic’s own error rests on; null: it is a published one',
  reportId: 'Id of the report; the same in all its versions',
  descriptionVersion: 'Version of the clinic’s description of the machine; null: not known',
  recordedAt: 'When the service stored it',
  recordedBy: 'Id of the principal who recorded it',
  startedAt: 'When the visit began, as the clinic’s clock showed it',
  asKnownAt: 'Answered from what the service knew at this time',
  at: 'When it happened',
  joint: 'The joint that is tested',
  side: 'Left or right, of the body',
  movement: 'Anatomical movement of the muscle group that is tested, e.g. extension',
  contractionMode: 'How the muscle works: isokinetic concentric, isokinetic eccentric or isometric',
  contractionScheme:
    'Both directions in turn within one set (reciprocal), or a single direction; the two are never compared',
  velocity: 'Set angular velocity, deg/s; 0 for an isometric test',
  measure: 'What is measured; the values of the enumeration Measure say it with unit and source',
  statistic: 'Best counted repetition, mean of the counted ones, or a total over the set',
  angle: 'Joint angle, deg from anatomical zero',
  unit: 'UCUM unit of the number beside it',
  confidence: 'Confidence of the intervals and verdicts, as a proportion: 0.95 is 95 %',
  interval:
    'Range in which the true value lies with the stated confidence, unit of the value; null: the error is not known',
  cautions: 'Code words of what the reader should bear in mind; empty: none',
  torqueState: 'Whether the weight of the limb is still in the torque',
  deviceFilter: 'Whether the machine filtered the signal before it came',
  deviceWindowing: 'Whether the machine cut the signal to a stretch of constant velocity before it came',
  involvedSide: 'The injured side: left, right, bilateral or none; null: no episode says it',
  sinceSurgery: 'Time since surgery on the day of the test or evaluation, wk; null: no surgery on record by then',
  surgeryOn: 'Day of the surgery; null: none on record',
  computeVersion: 'Version of the computing core that made the numbers; it is raised by any change that moves one',
  referenceDataVersion: 'Version of the published tables used: comparability rules, measurement errors',
  reasons: 'Differences between the two tests, gravest first, each with its source',
  against: 'Id of the earlier result that it is held against',
  intendedRepetitions: 'Repetitions that were asked for; null: not written down',
  restBefore: 'Rest before the set, s; null: not written down',
  birthDate: 'Date of birth; null: not recorded',
  criteriaSet: 'The set of criteria it is held against: key and version',
  citation: 'Published source of the criteria set',
  evaluatedOn: 'The date on which the criteria were evaluated',
  expiresOn: 'First day on which some evidence is older than its criterion allows',
  signedAt: 'When it was signed',
  decidedOn: 'Day of the clinician’s decision',
  category: 'What the clinician decided, as one word of the list',
  counts: 'How many criteria were met, not met and not assessable',
  comparator: 'How the observation is held against the threshold: <, <=, >, >= or is',
  intervalSpansThreshold:
    'Whether the threshold lies inside the interval, so that measurement error alone could turn the verdict; null: no interval',
  sha256: 'SHA-256 in hex, for recognising the same content again',
  recordingSha256: 'SHA-256 in hex of the stored recording; null: the values were reported',
  teamReference: 'By which the team knows the person',
  displayName: 'Name as it is shown',
  links: 'Paths under which REST shows the evidence',
  system: 'The numbering system: a URL or another name that the clinic keeps to',
  key: 'Short name by which other parts refer to it',
}

/** They tell the kind of the value and nothing of what it is. */
const OF_THE_KIND_ONLY: ReadonlySet<string | undefined> = new Set(
  [id, instant, day, plainQuantity, plainQuantity.shape.unit].map(({ description }) => description),
)

/** `own` is what the shape says; of a type it may be meant for the one field that holds it, so the words here come first. */
export const describeType = (name: string, own: string | undefined): string | undefined =>
  OWN_WORDS[name] ?? OWN_WORDS[recordOf(name)] ?? own

export function describeField(parent: string, field: string, own: string | undefined): string | undefined {
  if (!OF_THE_KIND_ONLY.has(own) && own !== undefined) return own
  return OWN_WORDS[`${recordOf(parent)}.${field}`] ?? SHARED_WORDS[field] ?? own
}

export const recordOf = (typeName: string): string => typeName.replace(/(Input|AsSent)$/, '')

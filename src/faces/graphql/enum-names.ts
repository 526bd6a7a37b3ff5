/** What GraphQL calls the lists of words, and each word in a sentence where the list has one. */
import { CLINIC_ROLES } from '../../tenancy/actor.ts'
import * as lists from '../../domain/code-lists.ts'
import { LIMB_CONDITIONS } from '../../domain/measurement-error-document.ts'
import { MEASURE_WORDS } from './words-measures.ts'

export interface NamedEnum {
  readonly name: string
  readonly description: string
  readonly labels: ReadonlyMap<string, string>
}

type Words = readonly string[] | readonly lists.CodeEntry[]

export const enumKey = (words: readonly string[]): string => words.toSorted((a, b) => (a < b ? -1 : 1)).join(' ')

const labelled = (words: Readonly<Record<string, string>>): lists.CodeEntry[] =>
  Object.entries(words).map(([code, label]) => ({ code, label }))

function named(name: string, list: Words, description: string): readonly [string, NamedEnum] {
  const entries = list.map((entry) => (typeof entry === 'string' ? { code: entry, label: undefined } : entry))
  const labels = new Map(entries.flatMap(({ code, label }) => (label === undefined ? [] : [[code, label] as const])))
  return [enumKey(entries.map(({ code }) => code)), { name, description, labels }]
}

export const ENUMS: ReadonlyMap<string, NamedEnum> = new Map([
  named('Side', lists.SIDES, 'Of the body'),
  named('Joint', lists.JOINTS, 'The joint that is tested'), // prettier-ignore
  named('Movement', lists.MOVEMENTS, 'Anatomical movement of a joint'),
  named('Measure', labelled(MEASURE_WORDS), 'What is measured, with unit and source'),
  named('ContractionMode', lists.CONTRACTION_MODES, 'How the muscle works'),
  named('ContractionScheme', lists.CONTRACTION_SCHEMES, 'Which directions a set has'),
  named('Statistic', lists.STATISTICS, 'Over the counted repetitions of a set'),
  named('ConsentLevel', lists.CONSENT_LEVELS, 'How much a subject agreed to show'),
  named('Decision', lists.REPORT_DECISIONS, 'What the clinician decided'),
  named('Currency', lists.REPORT_CURRENCIES, 'What has become of a signed report since'),
  named('SessionPurpose', lists.SESSION_PURPOSES, 'Why a visit was made'),
  named('ScreeningQuestion', lists.SCREENING_QUESTIONS, lists.SCREENING_SOURCE),
  named('ScreeningAnswer', lists.SCREENING_ANSWERS, 'What was answered to a question before the test'),
  named('PainScale', lists.PAIN_SCALES, 'By which pain was scored'),
  named('EffusionGrade', lists.EFFUSION_GRADES, 'Fluid in a joint'),
  named('WarmUpActivity', lists.WARM_UP_ACTIVITIES, 'Before the test'),
  named('Familiarisation', lists.FAMILIARISATION, 'Practice before the test'),
  named('VisualFeedback', lists.VISUAL_FEEDBACK, 'What the subject saw during the test'),
  named('LimbOrder', lists.LIMB_ORDERS, 'Which limb was tested first'),
  named('BodyPosition', lists.BODY_POSITIONS, 'Of the subject on the machine'),
  named('PadMount', lists.PAD_MOUNTS, 'What the pad is fixed to'),
  named('PadLandmark', lists.PAD_LANDMARKS, 'Where on the limb the pad lies'),
  named('TrunkStraps', lists.TRUNK_STRAPS, 'How the trunk was held'),
  named('ThighStrap', lists.THIGH_STRAP, 'How the thigh was held'),
  named('PartUse', lists.OPTIONAL_PART, 'Whether an optional part was used'),
  named('LumbarSupport', lists.LUMBAR_SUPPORT, 'Behind the lower back'),
  named('HandPosition', lists.HAND_POSITIONS, 'Where the hands were'),
  named('ZeroMethod', lists.ZERO_METHODS, 'How anatomical zero was found'),
  named('AxisLandmark', lists.AXIS_LANDMARKS, 'Where the axis of the joint was taken to be'),
  named('PadTravel', lists.PAD_TRAVEL, 'How far the pad slid along the limb over the range'),
  named('PadTravelDirection', lists.PAD_TRAVEL_DIRECTIONS, 'Which way the pad slid'),
  named('PadPositionReading', lists.PAD_POSITION_READINGS, 'From where the position of the pad was read'),
  named('NotPerformedReason', lists.NOT_PERFORMED_REASONS, 'Why something was not done'),
  named('DeviationReason', lists.DEVIATION_REASONS, 'Why a value differs from the plan'),
  named('RepetitionReason', lists.REPETITION_REASONS, 'Why a repetition counts or not'),
  named('FunctionalTest', lists.FUNCTIONAL_TESTS, 'Hops, questionnaires and what a clinician observes'),
  named('ObservedFinding', lists.OBSERVATIONS, 'What a clinician observed'),
  named('TorqueState', lists.TORQUE_STATES, 'Whether gravity is in the torque'),
  named('DeviceProcessing', lists.DEVICE_PROCESSING, 'What the device did to the signal before it came'),
  named('YesNo', ['yes', 'no'], 'Yes or no'),
  named('YesNoUnknown', lists.YES_NO_UNKNOWN, 'Yes, no, or not known'),
  named('Sex', ['female', 'male', 'unknown'], 'As recorded; thresholds differ by it'),
  named('SexOfPopulation', ['female', 'male'], 'Whom a publication studied, where it was one sex'),
  named('InvolvedSide', labelled({ left: 'The left limb', right: 'The right limb', bilateral: 'Both limbs', none: 'Neither limb, e.g. a test before any injury' }), 'The injured side of an episode'), // prettier-ignore
  named('OtherLimbHistory', labelled({ none_known: 'No injury or surgery known', injury: 'It was injured', surgery: 'It was operated on; it cannot be the denominator of a symmetry', unknown: 'Not known; symmetry carries a caution' }), 'Of the limb that is compared with'), // prettier-ignore
  named('EpisodeStatus', labelled({ active: 'Rehabilitation goes on', completed: 'Rehabilitation has ended', cancelled: 'Begun by mistake or broken off' }), 'Where a course of rehabilitation stands'), // prettier-ignore
  named('SessionState', labelled({ final: 'As it was pushed', amended: 'A corrected document took the place of the first', entered_in_error: 'Withdrawn; its results count nowhere' }), 'What has become of the record of a visit'), // prettier-ignore
  named('ResultOrigin', labelled({ computed: 'From a recording', reported: 'As the machine reported it' }), 'Where the numbers of a result come from'), // prettier-ignore
  named('ResultState', labelled({ final: 'It stands', held: 'A flag keeps it out of trends, symmetry and readiness', superseded: 'An amendment took its place' }), 'Whether a result stands'), // prettier-ignore
  named('FlagLevel', labelled({ note: 'Good to know; changes nothing', caution: 'The value may be compared with caution only', hold: 'The value stays out of trends, symmetry and readiness until a clinician resolves the flag' }), 'What a flag does as long as it stands'), // prettier-ignore
  named('FlagStatus', labelled({ open: 'Nobody has resolved it yet', confirmed: 'The hazard is real', dismissed: 'The hazard is not real; the value stands' }), 'What a clinician made of a flag'), // prettier-ignore
  named('FlagResolutionStatus', labelled({ confirmed: 'The hazard is real', dismissed: 'The hazard is not real; the value stands' }), 'What a clinician makes of a flag'), // prettier-ignore
  named('Comparability', labelled({ comparable: 'No difference on record bears on the measure', comparable_with_caution: 'Some difference may bear on the measure', not_assessable: 'Facts are missing that decide it', not_comparable: 'A difference rules the comparison out' }), 'May two tests be compared'), // prettier-ignore
  named('ComparabilityNeeded', labelled({ comparable: 'Those that compare without caution', comparable_with_caution: 'Those that compare, with caution too' }), 'Which tests are shown, by how they compare'), // prettier-ignore
  named('ComparabilityEffect', labelled({ note: 'Told, and nothing else', caution: 'May be compared with caution only', not_assessable: 'Cannot be decided', not_comparable: 'May not be compared' }), 'What a difference of two tests does to their comparison'), // prettier-ignore
  named('ComparedWith', labelled({ baseline: 'The visit named by the episode', previous: 'The test before', reference: 'The setup pinned for this limb on this machine' }), 'What a result is held against'), // prettier-ignore
  named('CriterionVerdict', labelled({ met: 'The evidence reaches the threshold', not_met: 'The evidence does not reach the threshold', not_assessable: 'Evidence is missing or doubtful; never counts as met' }), 'Of one criterion on a date'), // prettier-ignore
  named('CriteriaOutcome', labelled({ all_criteria_met: 'Every criterion is met', required_criteria_met: 'As many are met as the rule asks for', criteria_not_met: 'Fewer are met than the rule asks for', not_assessable: 'Too much evidence is missing to tell' }), 'Of a criteria set on a date; never a decision'), // prettier-ignore
  named('CriteriaRuleKind', labelled({ all: 'Every criterion', at_least: 'A number of them' }), 'How many criteria must be met'), // prettier-ignore
  named('CriteriaSetOrigin', ['published', 'clinic'], 'Who wrote a criteria set'),
  named('BetterWhen', ['higher', 'lower'], 'The direction in which a value improves'),
  named('ChangeVerdict', labelled({ increased: 'Beyond measurement error, upward', decreased: 'Beyond measurement error, downward', within_measurement_error: 'Not beyond error; no proof of no change', undetermined: 'No error is known, or the tests may not be compared' }), 'Whether a difference is beyond the error of the measurement (Weir 2005, J Strength Cond Res 19:231-40)'), // prettier-ignore
  named('ChangeMeaning', ['better', 'worse'], 'What a change beyond error means'),
  named('SlopeVerdict', labelled({ increased: 'The interval of the slope lies above zero', decreased: 'The interval of the slope lies below zero', plateau: 'The interval holds zero and is narrow beside the minimal detectable change', undetermined: 'Too few tests, or too wide an interval' }), 'Of a run of comparable tests'), // prettier-ignore
  named('SlopeErrorSource', labelled({ measurement_error: 'The error of one test', residuals: 'The scatter about the line' }), 'Where the standard error of a slope comes from: the larger of the two'), // prettier-ignore
  named('ErrorModelKind', labelled({ none: 'No error is known that may be applied', clinic_test_retest: 'The clinic’s own pairs of tests', published: 'From a publication on similar people and tests' }), 'Whose measurement error decides'), // prettier-ignore
  named('ErrorScale', labelled({ absolute: 'In the unit of the measure, at every level', percent: 'Grows with the value, %' }), 'Of a measurement error'), // prettier-ignore
  named('WeakerSide', labelled({ left: 'The left limb', right: 'The right limb', equal: 'Both limbs alike' }), 'Which limb has the smaller value'), // prettier-ignore
  named('TestedWhen', labelled({ pre_injury: 'Before the injury', pre_operative: 'Before the surgery' }), 'When the other limb was tested as a reference'), // prettier-ignore
  named('RepetitionContraction', labelled({ concentric: 'The muscle shortened', eccentric: 'The muscle was lengthened', isometric: 'The joint was held', unknown: 'Cannot be told' }), 'How the muscle worked, by the sign of its power'), // prettier-ignore
  named('LimbWeighingMethod', labelled({ single_angle: 'Held at one angle', several_angles: 'Held at several angles', passive_sweep: 'Moved slowly through the range', not_performed: 'Not weighed' }), 'How the limb was weighed'), // prettier-ignore
  named('CheckStatus', ['performed', 'not_performed'], 'Whether a check was made'),
  named('ChannelName', labelled({ time: 'Time, s', torque: 'Torque, N.m', angle: 'Joint angle, deg', velocity: 'Angular velocity, deg/s' }), 'A signal of a recording, with the unit it is kept in'), // prettier-ignore
  named('StartValueOrigin', labelled({ plan: 'A plan that was written', rule_of_thumb: 'Common practice: what to look for today', reference: 'The setup pinned for this limb', last_session: 'The last visit of this limb', mirrored_reference: 'The setup pinned for the other limb, mirrored', mirrored_last_session: 'The last visit of the other limb, mirrored', description_default: 'The description of the machine', unknown: 'No value is on record' }), 'Where a start value comes from'), // prettier-ignore
  named('PlannedTestOrigin', labelled({ plan: 'A plan that was written', last_session: 'The last visit of this limb', none: 'Neither; nothing is planned' }), 'Where the planned sets come from'), // prettier-ignore
  named('PinnedSessionState', labelled({ as_pinned: 'Unchanged since', amended_since: 'A corrected document took its place since', withdrawn_since: 'Withdrawn since' }), 'What became of the pinned visit'), // prettier-ignore
  named('ObservationState', labelled({ final: 'It stands', superseded: 'A newer word on the same key and day took its place' }), 'Whether an observation stands'), // prettier-ignore
  named('ReportState', labelled({ signed: 'It stands', superseded: 'A newer version was signed', withdrawn: 'Withdrawn with a reason' }), 'Of a version of a report'), // prettier-ignore
  named('ReportBasisKind', labelled({ result: 'A result of a set', functional_result: 'A hop, run or questionnaire', observation: 'A clinician’s word' }), 'What kind of evidence it is'), // prettier-ignore
  named('ConsentState', labelled({ in_force: 'In force today', not_begun: 'Begins later', ended: 'Its last day is over', revoked: 'Taken back' }), 'Of a consent, today'), // prettier-ignore
  named('TeamChange', labelled({ gone: 'The team may no longer see it', report: 'It appeared or was replaced' }), 'What happened to a report that a team may see'), // prettier-ignore
  named('AuditOutcome', labelled({ done: 'It was done', refused: 'It was not allowed or not valid', failed: 'The service could not do it' }), 'How a request ended'), // prettier-ignore
  named('PrecautionKind', labelled({ earliest_week: 'Not before a week since surgery', range_limit: 'Only between two joint angles', contraction_mode_excluded: 'Not in one contraction mode' }), 'What a precaution limits'), // prettier-ignore
  named('PrecautionSource', ['surgeon', 'clinic'], 'Who set a precaution'),
  named('Role', CLINIC_ROLES, 'Of a member of a clinic'),
  named('LimbCondition', LIMB_CONDITIONS, 'Limbs behind a measurement error'), // prettier-ignore
  named('ObservationKey', lists.FUNCTIONAL_TESTS.filter(({ form }) => form === 'observation'), 'What a clinician can observe'), // prettier-ignore
  named('SeriesStatistic', [...lists.STATISTICS, { code: 'coefficientOfVariation', label: 'Sample SD over the mean of the counted repetitions, %' }], 'Which statistic there are values of'), // prettier-ignore
  named('TorqueSign', [...lists.MOVEMENTS, 'unsigned'], 'Movement in which torque is positive; unsigned: the machine gives no sign'), // prettier-ignore
  named('AxisVerdict', labelled({ within_tolerance: 'The whole interval lies within the tolerance', beyond_tolerance: 'The whole interval lies beyond the tolerance', cannot_tell: 'The interval reaches over the edge of the tolerance', not_assessable: 'Readings are missing' }), 'Whether the axis of the joint lies on that of the machine'), // prettier-ignore
  named('MoveDirection', labelled({ forward: 'Towards the knee, along the thigh', back: 'Away from the knee, along the thigh', up: 'Upward', down: 'Downward' }), 'Which way to move seat or machine'), // prettier-ignore
  named('SeenDirection', labelled({ left: 'To the left', right: 'To the right', up: 'Upward', down: 'Downward' }), 'Which way something goes for someone who looks from the machine'), // prettier-ignore
  named('ErrorScope', labelled({ clinic: 'All tests of the clinic', operator: 'Tests by one operator', dynamometer: 'Tests on one machine', operator_and_dynamometer: 'Tests by one operator on one machine' }), 'Whose tests a measurement error rests on'), // prettier-ignore
  named('Derivation', labelled({ from_reported_value: 'Out of another value that the machine reported' }), 'How a value was worked out that the machine did not report'), // prettier-ignore
])

/** What GraphQL calls the lists of words, and each word in a sentence where the list has one. */
import { CLINIC_ROLES } from '../../tenancy/actor.ts'
import * as lists from '../../domain/code-lists.ts'

export interface NamedEnum {
  readonly name: string
  readonly description: string
  readonly labels: ReadonlyMap<string, string>
}

type Words = readonly string[] | readonly lists.CodeEntry[]

export const enumKey = (words: readonly string[]): string => words.toSorted((a, b) => (a < b ? -1 : 1)).join(' ')

function named(name: string, list: Words, description: string): readonly [string, NamedEnum] {
  const entries = list.map((entry) => (typeof entry === 'string' ? { code: entry, label: undefined } : entry))
  const labels = new Map(entries.flatMap(({ code, label }) => (label === undefined ? [] : [[code, label] as const])))
  return [enumKey(entries.map(({ code }) => code)), { name, description, labels }]
}

export const ENUMS: ReadonlyMap<string, NamedEnum> = new Map([
  named('Side', lists.SIDES, 'Of the body'),
  named('Joint', lists.JOINTS, 'The joint that is tested'),
  named('Movement', lists.MOVEMENTS, 'Anatomical movement of a joint'),
  named('Measure', lists.MEASURES, 'What is measured; src/compute/README.md has unit, definition and source of each'),
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
  named('InvolvedSide', ['left', 'right', 'bilateral', 'none'], 'The injured side of an episode'),
  named('OtherLimbHistory', ['none_known', 'injury', 'surgery', 'unknown'], 'Of the limb that is compared with'),
  named('EpisodeStatus', ['active', 'completed', 'cancelled'], 'Where an episode stands'),
  named('SessionState', ['final', 'amended', 'entered_in_error'], 'What has become of a session'),
  named('ResultOrigin', ['computed', 'reported'], 'From a recording, or as the machine reported it'),
  named('ResultState', ['final', 'held', 'superseded'], 'Whether a result stands'),
  named('FlagLevel', ['note', 'caution', 'hold'], 'What a flag does: a hold keeps the value out of progress'),
  named('FlagStatus', ['open', 'confirmed', 'dismissed'], 'What a clinician made of a flag'),
  named('FlagResolutionStatus', ['confirmed', 'dismissed'], 'The hazard is real, or it is not'),
  named('Comparability', ['comparable', 'comparable_with_caution', 'not_assessable', 'not_comparable'], 'May two tests be compared'), // prettier-ignore
  named('ComparabilityEffect', ['note', 'caution', 'not_assessable', 'not_comparable'], 'What a difference does'),
  named('ComparedWith', ['baseline', 'previous', 'reference'], 'What a result was held against'),
  named('CriterionVerdict', ['met', 'not_met', 'not_assessable'], 'Missing or doubtful evidence never counts as met'),
  named('CriteriaOutcome', ['all_criteria_met', 'required_criteria_met', 'criteria_not_met', 'not_assessable'], 'Of a criteria set on a date; never a decision'), // prettier-ignore
  named('CriteriaRuleKind', ['all', 'at_least'], 'How many criteria must be met'),
  named('CriteriaSetOrigin', ['published', 'clinic'], 'Who wrote a criteria set'),
  named('BetterWhen', ['higher', 'lower'], 'The direction in which a value improves'),
  named('ChangeVerdict', ['increased', 'decreased', 'within_measurement_error', 'undetermined'], 'Whether a difference is beyond the error of the measurement'), // prettier-ignore
  named('ChangeMeaning', ['better', 'worse'], 'What a change beyond error means'),
  named('SlopeVerdict', ['increased', 'decreased', 'plateau', 'undetermined'], 'Of a run of comparable tests'),
  named('SlopeErrorSource', ['measurement_error', 'residuals'], 'Where the standard error of a slope comes from'),
  named('ErrorModelKind', ['none', 'clinic_test_retest', 'published'], 'Whose measurement error decides'),
  named('ErrorScale', ['absolute', 'percent'], 'Of a measurement error'),
  named('WeakerSide', ['left', 'right', 'equal'], 'Which limb is weaker'),
  named('TestedWhen', ['pre_injury', 'pre_operative'], 'When the other limb was tested as a reference'),
  named('RepetitionContraction', ['concentric', 'eccentric', 'isometric', 'unknown'], 'By the sign of muscle power'),
  named('LimbWeighingMethod', ['single_angle', 'several_angles', 'passive_sweep', 'not_performed'], 'How the limb was weighed'), // prettier-ignore
  named('CheckStatus', ['performed', 'not_performed'], 'Whether a check was made'),
  named('RecordingEncoding', ['values', 'f32leBase64', 'csv', 'mixed'], 'How samples were sent'),
  named('ChannelName', ['time', 'torque', 'angle', 'velocity'], 'Of a recording'),
  named('StartValueOrigin', ['reference', 'last_session', 'mirrored_reference', 'mirrored_last_session', 'description_default', 'unknown'], 'Where a start value comes from'), // prettier-ignore
  named('PlannedTestOrigin', ['plan', 'last_session', 'none'], 'Where the planned sets come from'),
  named('PinnedSessionState', ['as_pinned', 'amended_since', 'withdrawn_since'], 'What became of the pinned session'),
  named('ObservationState', ['final', 'superseded'], 'Whether an observation stands'),
  named('ReportState', ['signed', 'superseded', 'withdrawn'], 'Of a version of a report'),
  named('ReportBasisKind', ['result', 'functional_result', 'observation'], 'What kind of evidence it is'),
  named('ConsentState', ['in_force', 'not_begun', 'ended', 'revoked'], 'Of a consent, today'),
  named('TeamChange', ['gone', 'report'], 'What happened to a report that a team may see'),
  named('AuditOutcome', ['done', 'refused', 'failed'], 'How a request ended'),
  named('PrecautionKind', ['earliest_week', 'range_limit', 'contraction_mode_excluded'], 'What a precaution limits'),
  named('PrecautionSource', ['surgeon', 'clinic'], 'Who set a precaution'),
  named('Role', CLINIC_ROLES, 'Of a member of a clinic'),
])

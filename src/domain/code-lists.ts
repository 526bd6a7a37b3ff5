/**
 * The words a document may use, as data: each list can be read through the interface, each entry in our own words.
 * A list is never edited in place: a changed list gets a new LIST_VERSION, and a document says which one it was asked by.
 */
import type { Joint, Movement, MovementPair } from '../compute/index.ts'
import { MEASURE_NAMES } from '../compute/index.ts'
import type { QuantityKind } from '../compute/units/index.ts'

export const LIST_VERSION = '2026-1'
export const LIST_VERSIONS = [LIST_VERSION] as const

export interface CodeEntry {
  readonly code: string
  readonly label: string
}

/** The codes of a list as zod and TypeScript want them. */
export function codesOf<const T extends readonly { readonly code: string }[]>(
  list: T,
): readonly [T[number]['code'], ...T[number]['code'][]] {
  return list.map((entry) => entry.code) as unknown as readonly [T[number]['code'], ...T[number]['code'][]]
}

export const SIDES = ['left', 'right'] as const
export const YES_NO_UNKNOWN = ['yes', 'no', 'unknown'] as const

/** Pairs of movements by joint, each [first, second] as in the compute core. */
export const JOINT_MOVEMENTS: Readonly<Record<Joint, readonly MovementPair[]>> = {
  knee: [['extension', 'flexion']],
  hip: [
    ['extension', 'flexion'],
    ['adduction', 'abduction'],
    ['internal_rotation', 'external_rotation'],
  ],
  ankle: [
    ['plantar_flexion', 'dorsiflexion'],
    ['inversion', 'eversion'],
  ],
  shoulder: [
    ['extension', 'flexion'],
    ['adduction', 'abduction'],
    ['internal_rotation', 'external_rotation'],
  ],
  elbow: [
    ['extension', 'flexion'],
    ['pronation', 'supination'],
  ],
  wrist: [['extension', 'flexion']],
  trunk: [['extension', 'flexion']],
}

export const JOINTS = Object.keys(JOINT_MOVEMENTS) as [Joint, ...Joint[]]

export const MOVEMENTS = [...new Set(Object.values(JOINT_MOVEMENTS).flat(2))] as [Movement, ...Movement[]]

export const CONTRACTION_MODES = [
  { code: 'isokinetic_concentric', label: 'The muscle shortens at a set speed' },
  { code: 'isokinetic_eccentric', label: 'The muscle is lengthened at a set speed' },
  { code: 'isometric', label: 'The joint is held at an angle' },
] as const

export const CONTRACTION_SCHEMES = [
  { code: 'reciprocal', label: 'Both directions in turn within one set' },
  { code: 'single_direction', label: 'One muscle group only' },
] as const

export const TORQUE_STATES = [
  { code: 'measured', label: 'As the machine measured it, gravity included' },
  { code: 'gravity_corrected', label: 'Gravity was taken out before we saw it' },
  { code: 'unknown', label: 'Not known' },
] as const

export const DEVICE_PROCESSING = [
  { code: 'none', label: 'The device left the signal as it was' },
  { code: 'applied', label: 'The device changed the signal' },
  { code: 'unknown', label: 'Not known' },
] as const

export const SESSION_PURPOSES = [
  { code: 'pre_injury_test', label: 'Before any injury, for later reference' },
  { code: 'pre_operative_test', label: 'Before surgery' },
  { code: 'baseline_test', label: 'First test that later ones are held against' },
  { code: 'progress_test', label: 'Follow-up during rehabilitation' },
  { code: 'criteria_test', label: 'Test to be held against a criteria set' },
  { code: 'repeat_test', label: 'Second test after setting up anew, to learn the measurement error' },
  { code: 'familiarisation', label: 'Practice; its results are not a baseline' },
  { code: 'other', label: 'Something else' },
] as const

interface ScreeningQuestion extends CodeEntry {
  /** How a "yes" is commonly weighed; the local protocol and the clinician come first. */
  readonly weight: 'absolute' | 'relative'
}

/** Contraindications as textbooks of isokinetic testing commonly list them (Davies; Perrin; Dvir; Brown): from memory. */
export const SCREENING_SOURCE =
  'Common textbook lists, from memory; blood pressure limits as in Williams 2007, Circulation 116:572-84. Local protocol and licensed practice come first.'

export const SCREENING_QUESTIONS = [
  { code: 'unhealed_fracture', weight: 'absolute', label: 'A fracture that has not united' },
  { code: 'unstable_joint', weight: 'absolute', label: 'A joint that is unstable' },
  {
    code: 'acute_soft_tissue_injury',
    weight: 'absolute',
    label: 'An acute strain or tear of muscle, tendon or ligament',
  },
  { code: 'severe_pain', weight: 'absolute', label: 'Severe pain' },
  { code: 'marked_effusion', weight: 'absolute', label: 'Marked effusion' },
  { code: 'severe_motion_limit', weight: 'absolute', label: 'Severely limited motion' },
  { code: 'active_infection', weight: 'absolute', label: 'An active infection' },
  { code: 'unstable_heart_disease', weight: 'absolute', label: 'Unstable heart disease' },
  { code: 'decompensated_heart_failure', weight: 'absolute', label: 'Heart failure that is not compensated' },
  { code: 'uncontrolled_arrhythmia', weight: 'absolute', label: 'An arrhythmia that is not controlled' },
  { code: 'symptomatic_aortic_stenosis', weight: 'absolute', label: 'Severe aortic stenosis with symptoms' },
  { code: 'aortic_disease', weight: 'absolute', label: 'Aortic dissection or aneurysm' },
  { code: 'suspected_vein_thrombosis', weight: 'absolute', label: 'A suspected deep-vein thrombosis' },
  { code: 'blood_pressure_above_180_110', weight: 'absolute', label: 'Blood pressure above 180/110 mm[Hg]' },
  {
    code: 'tissue_stage_forbids_load',
    weight: 'absolute',
    label: 'Repaired or injured tissue at a stage that forbids maximal load',
  },
  {
    code: 'surgery_without_release',
    weight: 'absolute',
    label: 'Recent surgery that the surgeon has not released for loading',
  },
  {
    code: 'extensor_mechanism_repair',
    weight: 'absolute',
    label: 'A recent fracture or repair of the extensor mechanism',
  },
  {
    code: 'joint_replacement_without_release',
    weight: 'absolute',
    label: 'A joint replacement that is not released for loading',
  },
  { code: 'recent_eye_or_abdominal_surgery', weight: 'absolute', label: 'Recent eye or abdominal surgery' },
  { code: 'proliferative_retinopathy', weight: 'absolute', label: 'Proliferative retinopathy' },
  { code: 'symptomatic_hernia', weight: 'absolute', label: 'A hernia with symptoms' },
  { code: 'pathological_bone_at_site', weight: 'absolute', label: 'Pathological bone or a malignancy at the site' },
  { code: 'open_wound_under_pad', weight: 'absolute', label: 'An open wound under a pad or strap' },
  { code: 'acute_inflammatory_arthritis', weight: 'absolute', label: 'Acute inflammatory arthritis' },
  { code: 'neurological_red_flags', weight: 'absolute', label: 'Neurological warning signs' },
  { code: 'unable_to_follow_instructions', weight: 'absolute', label: 'Unable to follow instructions' },
  { code: 'no_consent', weight: 'absolute', label: 'No consent to the test' },
  { code: 'moderate_pain_or_effusion', weight: 'relative', label: 'Moderate pain or effusion' },
  { code: 'restricted_motion', weight: 'relative', label: 'Restricted motion' },
  { code: 'subacute_strain', weight: 'relative', label: 'A subacute strain' },
  { code: 'raised_blood_pressure', weight: 'relative', label: 'Blood pressure above 160/100 mm[Hg]' },
  { code: 'bleeding_disorder', weight: 'relative', label: 'A bleeding disorder' },
  { code: 'anticoagulation', weight: 'relative', label: 'Anticoagulation' },
  { code: 'open_growth_plates', weight: 'relative', label: 'Open growth plates or apophysitis' },
  { code: 'osteoporosis', weight: 'relative', label: 'Osteoporosis' },
  { code: 'pregnancy', weight: 'relative', label: 'Pregnancy (position)' },
  { code: 'epilepsy', weight: 'relative', label: 'Epilepsy' },
  { code: 'recent_injection', weight: 'relative', label: 'A recent corticosteroid injection' },
  { code: 'analgesics_taken', weight: 'relative', label: 'Analgesics taken before the test: they mask pain' },
] as const satisfies readonly ScreeningQuestion[]

export const SCREENING_ANSWERS = [
  { code: 'yes', label: 'Yes' },
  { code: 'no', label: 'No' },
  { code: 'unknown', label: 'Asked; the answer is not known' },
  { code: 'not_asked', label: 'Not asked' },
] as const

export const PAIN_SCALES = [
  { code: 'numeric_rating_0_10', label: 'Numeric rating, 0 none to 10 worst imaginable' },
] as const

/** Grades of the stroke test (Sturgill 2009, J Orthop Sports Phys Ther 39:845-9; citation from memory). */
export const EFFUSION_GRADES = [
  { code: 'none', label: 'No wave on the downstroke' },
  { code: 'trace', label: 'A small wave on the medial side with the downstroke' },
  { code: 'one_plus', label: 'A larger bulge on the medial side with the downstroke' },
  { code: 'two_plus', label: 'The effusion returns to the medial side without a downstroke' },
  { code: 'three_plus', label: 'So much fluid that it cannot be moved out of the medial side' },
  { code: 'not_assessed', label: 'Not assessed' },
] as const

export const WARM_UP_ACTIVITIES = [
  { code: 'cycling', label: 'Stationary cycling' },
  { code: 'walking', label: 'Walking' },
  { code: 'running', label: 'Running' },
  { code: 'rowing', label: 'Rowing' },
  { code: 'arm_ergometer', label: 'Arm ergometer' },
  { code: 'submaximal_repetitions', label: 'Submaximal repetitions on the machine' },
  { code: 'none', label: 'None' },
  { code: 'other', label: 'Another activity' },
] as const

export const FAMILIARISATION = [
  { code: 'none', label: 'None' },
  { code: 'same_session', label: 'Practice earlier in the same session' },
  { code: 'earlier_session', label: 'An earlier session with the same test' },
  { code: 'not_recorded', label: 'Not recorded' },
] as const

export const VISUAL_FEEDBACK = [
  { code: 'none', label: 'None' },
  { code: 'torque_curve', label: 'The torque curve was shown' },
  { code: 'target_line', label: 'A target was shown' },
  { code: 'other', label: 'Another kind' },
  { code: 'not_recorded', label: 'Not recorded' },
] as const

export const LIMB_ORDERS = [
  { code: 'uninvolved_first', label: 'Uninvolved limb first' },
  { code: 'involved_first', label: 'Involved limb first' },
  { code: 'left_first', label: 'Left limb first' },
  { code: 'right_first', label: 'Right limb first' },
  { code: 'one_limb_only', label: 'One limb only' },
  { code: 'not_recorded', label: 'Not recorded' },
] as const

export const BODY_POSITIONS = [
  { code: 'seated', label: 'Seated' },
  { code: 'supine', label: 'Supine' },
  { code: 'prone', label: 'Prone' },
  { code: 'side_lying', label: 'Side-lying' },
  { code: 'standing', label: 'Standing' },
] as const

export const PAD_MOUNTS = [
  { code: 'arm', label: 'Fixed on the arm of the machine; slides on the limb' },
  { code: 'shin', label: 'Fixed on the limb; slides on the arm of the machine' },
  { code: 'not_recorded', label: 'Not recorded' },
] as const

export const PAD_LANDMARKS = [
  { code: 'top_of_dorsiflexed_foot', label: 'Lowered until it meets the top of the fully dorsiflexed foot' },
  { code: 'above_ankle_bones', label: 'Just above the ankle bones' },
  { code: 'below_knee', label: 'Near the knee' },
  { code: 'wrist_crease', label: 'At the wrist crease' },
  { code: 'other', label: 'Another landmark' },
  { code: 'not_recorded', label: 'Not recorded' },
] as const

export const TRUNK_STRAPS = [
  { code: 'both', label: 'Both trunk straps' },
  { code: 'one', label: 'One trunk strap' },
  { code: 'lap_only', label: 'Lap strap only' },
  { code: 'none', label: 'No trunk strap' },
  { code: 'not_recorded', label: 'Not recorded' },
] as const

export const THIGH_STRAP = [
  { code: 'firm', label: 'Pulled firm' },
  { code: 'light', label: 'Light' },
  { code: 'overtight', label: 'Levered tight: affects results' },
  { code: 'none', label: 'No thigh strap' },
  { code: 'not_recorded', label: 'Not recorded' },
] as const

export const OPTIONAL_PART = [
  { code: 'used', label: 'Used' },
  { code: 'not_used', label: 'Not used' },
  { code: 'not_recorded', label: 'Not recorded' },
] as const

export const LUMBAR_SUPPORT = [
  { code: 'cushion', label: 'Lumbar cushion' },
  { code: 'roll', label: 'Lumbar roll' },
  { code: 'none', label: 'None' },
  { code: 'not_recorded', label: 'Not recorded' },
] as const

export const HAND_POSITIONS = [
  { code: 'holding_handles', label: 'Holding the handles' },
  { code: 'crossed_on_chest', label: 'Crossed on the chest' },
  { code: 'holding_straps', label: 'Holding the straps' },
  { code: 'resting', label: 'Resting, holding nothing' },
  { code: 'not_recorded', label: 'Not recorded' },
] as const

export const ZERO_METHODS = [
  { code: 'goniometer', label: 'Goniometer' },
  { code: 'inclinometer', label: 'Inclinometer' },
  { code: 'full_extension_by_eye', label: 'Full extension by eye' },
  { code: 'other', label: 'Another way' },
  { code: 'not_recorded', label: 'Not recorded' },
] as const

export const AXIS_LANDMARKS = [
  { code: 'lateral_femoral_condyle', label: 'Lateral femoral condyle' },
  { code: 'lateral_joint_line', label: 'Lateral joint line of the knee' },
  { code: 'greater_trochanter', label: 'Greater trochanter' },
  { code: 'lateral_malleolus', label: 'Lateral malleolus' },
  { code: 'subtalar_axis', label: 'Subtalar axis' },
  { code: 'acromion', label: 'Acromion' },
  { code: 'olecranon', label: 'Olecranon' },
  { code: 'lateral_humeral_epicondyle', label: 'Lateral epicondyle of the humerus' },
  { code: 'capitate', label: 'Capitate' },
  { code: 'lumbosacral_junction', label: 'Lumbosacral junction' },
  { code: 'other', label: 'Another landmark' },
] as const

export const PAD_TRAVEL = [
  { code: 'none', label: 'The pad stays in place on the limb' },
  { code: 'slight', label: 'The pad moves slightly along the limb' },
  { code: 'clear', label: 'The pad clearly moves along the limb' },
] as const

export const PAD_TRAVEL_DIRECTIONS = [
  { code: 'away_from_joint_in_extension', label: 'Away from the joint as the limb straightens' },
  { code: 'towards_joint_in_extension', label: 'Towards the joint as the limb straightens' },
] as const

export const PAD_POSITION_READINGS = [
  { code: 'skin_mark', label: 'From a mark on the skin' },
  { code: 'bony_landmark', label: 'From a bony landmark' },
] as const

export const NOT_PERFORMED_REASONS = [
  { code: 'time', label: 'No time' },
  { code: 'pain', label: 'Pain' },
  { code: 'subject_declined', label: 'The subject declined' },
  { code: 'equipment', label: 'The equipment did not allow it' },
  { code: 'not_applicable', label: 'Does not apply to this test' },
  { code: 'other', label: 'Another reason' },
] as const

/** Why a setting is not the planned one. */
export const DEVIATION_REASONS = [
  { code: 'axis_alignment', label: 'Moved to bring the axis in line' },
  { code: 'pain_or_discomfort', label: 'Pain or discomfort' },
  { code: 'limited_motion', label: 'Motion is limited today' },
  { code: 'body_changed', label: 'The body has changed: swelling, brace, footwear' },
  { code: 'equipment', label: 'The equipment did not allow it' },
  { code: 'mistake_found_later', label: 'A slip that was noticed afterwards' },
  { code: 'clinician_decision', label: 'A clinician decided otherwise' },
  { code: 'other', label: 'Another reason' },
] as const

export const REPETITION_REASONS = [
  { code: 'aborted', label: 'Aborted' },
  { code: 'pain', label: 'Pain' },
  { code: 'practice', label: 'Practice repetition' },
  { code: 'submaximal_effort', label: 'Not meant or not done as a maximal effort' },
  { code: 'incomplete_motion', label: 'Motion not completed' },
  { code: 'strap_or_pad_slipped', label: 'A strap or the pad slipped' },
  { code: 'equipment_fault', label: 'Equipment fault' },
  { code: 'instruction_misunderstood', label: 'Instruction misunderstood' },
  { code: 'reviewed', label: 'Reviewed by a clinician' },
  { code: 'other', label: 'Another reason' },
] as const

export const STATISTICS = [
  { code: 'best', label: 'Best counted repetition' },
  { code: 'mean', label: 'Mean of the counted repetitions' },
  { code: 'total', label: 'Sum or index over the whole set' },
] as const

export const MEASURES = [...MEASURE_NAMES, 'torqueAtAngle'] as const

export interface FunctionalTest extends CodeEntry {
  /** trials: measured tries; total: one questionnaire total; observation: what a clinician saw. */
  readonly form: 'trials' | 'total' | 'observation'
  readonly kind: QuantityKind | null
  /** Inclusive, canonical unit. */
  readonly min?: number
  readonly max?: number
  readonly sided: 'yes' | 'no'
  readonly betterWhen: 'higher' | 'lower' | 'none'
  /** Forms in use; the total must say which one it is where there is more than one. */
  readonly formVersions?: readonly string[]
  /** Of an observation: the words that can answer it. */
  readonly observations?: readonly string[]
}

/** Questionnaires: totals only; the wording of their items belongs to their owners. */
export const FUNCTIONAL_TESTS = [
  {
    code: 'single_hop_distance',
    label: 'Single hop for distance',
    form: 'trials',
    kind: 'length',
    min: 0,
    max: 5,
    sided: 'yes',
    betterWhen: 'higher',
  },
  {
    code: 'triple_hop_distance',
    label: 'Triple hop for distance',
    form: 'trials',
    kind: 'length',
    min: 0,
    max: 15,
    sided: 'yes',
    betterWhen: 'higher',
  },
  {
    code: 'triple_crossover_hop_distance',
    label: 'Triple crossover hop for distance',
    form: 'trials',
    kind: 'length',
    min: 0,
    max: 15,
    sided: 'yes',
    betterWhen: 'higher',
  },
  {
    code: 'six_metre_timed_hop',
    label: 'Timed hop over six metres',
    form: 'trials',
    kind: 'duration',
    min: 0.5,
    max: 60,
    sided: 'yes',
    betterWhen: 'lower',
  },
  {
    code: 'side_hop_count',
    label: 'Side hops in thirty seconds',
    form: 'trials',
    kind: 'repetition_count',
    min: 0,
    max: 200,
    sided: 'yes',
    betterWhen: 'higher',
  },
  {
    code: 'vertical_jump_height',
    label: 'Single-leg vertical jump',
    form: 'trials',
    kind: 'length',
    min: 0,
    max: 1.5,
    sided: 'yes',
    betterWhen: 'higher',
  },
  {
    code: 'agility_t_run_time',
    label: 'Agility run along a T',
    form: 'trials',
    kind: 'duration',
    min: 3,
    max: 120,
    sided: 'no',
    betterWhen: 'lower',
  },
  {
    code: 'sprint_30_m_time',
    label: 'Sprint over thirty metres',
    form: 'trials',
    kind: 'duration',
    min: 2,
    max: 60,
    sided: 'no',
    betterWhen: 'lower',
  },
  {
    code: 'passive_knee_extension',
    label: 'Passive knee extension (hyperextension negative)',
    form: 'trials',
    kind: 'angle',
    min: -30,
    max: 90,
    sided: 'yes',
    betterWhen: 'none',
  },
  {
    code: 'passive_knee_flexion',
    label: 'Passive knee flexion',
    form: 'trials',
    kind: 'angle',
    min: 0,
    max: 180,
    sided: 'yes',
    betterWhen: 'higher',
  },
  {
    code: 'landing_error_score',
    label: 'Landing error score',
    form: 'total',
    kind: 'score',
    min: 0,
    max: 19,
    sided: 'no',
    betterWhen: 'lower',
  },
  {
    code: 'ikdc_subjective',
    label: 'Subjective knee form total, 0 to 100',
    form: 'total',
    kind: 'score',
    min: 0,
    max: 100,
    sided: 'no',
    betterWhen: 'higher',
    formVersions: ['current_87_points', 'original_2000', 'paediatric'],
  },
  {
    code: 'kos_adls',
    label: 'Knee outcome survey, daily living, 0 to 100',
    form: 'total',
    kind: 'score',
    min: 0,
    max: 100,
    sided: 'no',
    betterWhen: 'higher',
  },
  {
    code: 'kos_sports',
    label: 'Knee outcome survey, sports activities, 0 to 100',
    form: 'total',
    kind: 'score',
    min: 0,
    max: 100,
    sided: 'no',
    betterWhen: 'higher',
  },
  {
    code: 'acl_rsi',
    label: 'Return to sport after injury scale, 0 to 100',
    form: 'total',
    kind: 'score',
    min: 0,
    max: 100,
    sided: 'no',
    betterWhen: 'higher',
    formVersions: ['12_items', '6_items'],
  },
  {
    code: 'lefs',
    label: 'Lower extremity functional scale, 0 to 80',
    form: 'total',
    kind: 'score',
    min: 0,
    max: 80,
    sided: 'no',
    betterWhen: 'higher',
  },
  {
    code: 'tegner_activity',
    label: 'Activity level, 0 to 10',
    form: 'total',
    kind: 'score',
    min: 0,
    max: 10,
    sided: 'no',
    betterWhen: 'none',
    formVersions: ['current', 'pre_injury'],
  },
  {
    code: 'global_rating',
    label: 'Global rating against before the injury, 0 to 100',
    form: 'total',
    kind: 'score',
    min: 0,
    max: 100,
    sided: 'no',
    betterWhen: 'higher',
  },
  {
    code: 'on_field_rehabilitation',
    label: 'Sport-specific programme on the field',
    form: 'observation',
    observations: ['completed', 'not_completed', 'not_assessed'],
    kind: null,
    sided: 'no',
    betterWhen: 'none',
  },
  {
    code: 'subjective_form_within_reference',
    label: 'Subjective knee form against the reference of the same age and sex',
    form: 'observation',
    observations: ['within_reference', 'outside_reference', 'not_assessed'],
    kind: null,
    sided: 'no',
    betterWhen: 'none',
  },
] as const satisfies readonly FunctionalTest[]

/** The same list without its literal types, for looking an entry up. */
export const FUNCTIONAL_TEST_BY_CODE: ReadonlyMap<string, FunctionalTest> = new Map(
  FUNCTIONAL_TESTS.map((test) => [test.code, test]),
)

export const OBSERVATIONS = [
  { code: 'completed', label: 'Completed' },
  { code: 'not_completed', label: 'Not completed' },
  { code: 'within_reference', label: 'Within the reference' },
  { code: 'outside_reference', label: 'Outside the reference' },
  { code: 'not_assessed', label: 'Not assessed' },
] as const

/** What a licensed clinician decides beside the criteria; none of them says more than it says. */
export const REPORT_DECISIONS = [
  { code: 'continue_rehabilitation', label: 'Continue rehabilitation' },
  { code: 'progress_stage', label: 'Go on to the next stage' },
  { code: 'participate_with_limits', label: 'Take part within stated limits' },
  { code: 'other', label: 'Another decision, in the note' },
] as const

/** How much of a report a subject agreed to show a team. */
export const CONSENT_LEVELS = [
  { code: 'status', label: 'Criteria set, counts, date and category of the decision' },
  { code: 'criteria', label: 'Beside that, each criterion and its verdict' },
  { code: 'measures', label: 'Beside that, the values' },
] as const

export const REPORT_CURRENCIES = [
  { code: 'affected_by_amendment', label: 'A test behind it was amended or withdrawn since' },
  { code: 'stale', label: 'Evidence behind it is older than its criteria allow' },
  { code: 'newer_test_exists', label: 'The subject was tested again since' },
  { code: 'current', label: 'None of these' },
] as const

/**
 * Why there is no value or no verdict, and what to keep in mind where there is one. A value that a flag holds back has
 * that flag's code as its reason, and a repetition that was not counted has the reason it was sent with: one list has all.
 */
import { REPETITION_REASONS, type CodeEntry } from './code-lists.ts'
import { FLAG_CODES } from './flag-lists.ts'

const MEASURES = [
  { code: 'not_measured', label: 'This measure was not taken in this test' },
  { code: 'not_reported', label: 'The sender did not report this value' },
  { code: 'isokinetic_only', label: 'Only a test at a set speed has this measure' },
  { code: 'isometric_only', label: 'Only an isometric test has this measure' },
  { code: 'no_repetition_found', label: 'No repetition was found in the set' },
  { code: 'no_counted_repetition', label: 'No repetition of the set counts' },
  { code: 'too_few_repetitions', label: 'Too few counted repetitions for this statistic' },
  { code: 'samples_missing', label: 'Samples are missing where the value would be read' },
  { code: 'no_movement', label: 'The limb did not move' },
  { code: 'no_load_range', label: 'The set speed was not held long enough' },
  { code: 'outside_load_range', label: 'The angle was not reached at the set speed' },
  { code: 'no_torque_in_tested_direction', label: 'There is no torque in the tested direction' },
  { code: 'muscle_power_has_other_sign', label: 'The muscle worked the other way than the test asks for' },
  { code: 'windowed_by_device', label: 'The device cut off a part that this value needs' },
  { code: 'gravity_correction_unknown', label: 'Not known whether gravity was taken out, and this value turns on it' },
  { code: 'body_mass_missing', label: 'The body mass was not recorded' },
  { code: 'onset_not_found', label: 'The start of the contraction was not found' },
  {
    code: 'contraction_shorter_than_window',
    label: 'The contraction is shorter than the time this value is taken over',
  },
  { code: 'window_not_asked_for', label: 'The analysis was not asked for this time window' },
  { code: 'no_plateau', label: 'The torque has no steady part' },
  { code: 'not_stated', label: 'No reason was given' },
] as const satisfies readonly CodeEntry[]

const LIMB_WEIGHT = [
  { code: 'limb_not_weighed', label: 'The limb was not weighed, or its weighing cannot be used' },
  { code: 'limb_not_weighed_on_both_sides', label: 'There is no usable weighing of both limbs in the same position' },
  { code: 'limb_orientation_not_settled', label: 'How the limb hangs in this position is not known' },
  { code: 'weighed_before_last_adjustment', label: 'Something was adjusted after the limb was weighed' },
  { code: 'weighed_too_near_vertical', label: 'Weighed too near vertical, where gravity hardly turns the joint' },
  { code: 'weighing_not_positive', label: 'The weighing came out as no weight or less' },
  { code: 'readings_do_not_settle_the_fit', label: 'The readings at these angles do not settle the limb weight' },
  { code: 'sweep_too_short_or_broken', label: 'The passive sweep is too short or has breaks' },
  { code: 'body_mass_or_height_missing', label: 'Body mass or height is not known' },
  { code: 'joint_not_in_segment_tables', label: 'The tables of body segments do not have this joint' },
  { code: 'arm_and_attachment_not_described', label: 'The weight of arm and attachment is not known' },
  { code: 'lighter_than_the_limb', label: 'Lighter than a limb of this body can be' },
  { code: 'heavier_than_the_limb', label: 'Heavier than a limb of this body can be' },
  { code: 'attachment_unknown', label: 'The attachment of one limb was not recorded' },
  { code: 'attachment_differs', label: 'The limbs were weighed with different attachments' },
  { code: 'taring_differs_or_unknown', label: 'The arm was tared for one limb only, or it is not known' },
  { code: 'lever_arm_unknown', label: 'The lever arm of one limb was not recorded' },
  { code: 'lever_arm_differs', label: 'The lever arms of the limbs differ' },
  { code: 'body_mass_differs', label: 'The body mass changed between the weighings' },
  { code: 'weighings_too_far_apart', label: 'The weights of the limbs differ more than limbs of one body do' },
] as const satisfies readonly CodeEntry[]

const AXIS_AND_SEAT = [
  { code: 'axis_check_not_recorded', label: 'No axis check was recorded' },
  { code: 'axis_check_not_performed', label: 'The axis was not checked' },
  { code: 'axis_checked_before_last_adjustment', label: 'Something was adjusted after the axis check' },
  { code: 'pad_positions_not_recorded', label: 'The pad positions of the axis check were not recorded' },
  { code: 'pad_mount_not_recorded', label: 'What the pad is mounted on was not recorded' },
  { code: 'geometry_of_seated_knee_only', label: 'The offset can be worked out for the seated knee only' },
  { code: 'reading_error_unknown', label: 'How closely the pad position was read is not known' },
  { code: 'readings_not_usable', label: 'A reading or the distance to the pad is not a usable number' },
  { code: 'distance_unknown', label: 'The distance from joint to pad is not known' },
  { code: 'too_few_angles', label: 'The pad position was read at too few angles' },
  { code: 'angles_do_not_separate', label: 'The angles are too close together to tell forward from up' },
  { code: 'no_solution', label: 'No axis agrees with the readings' },
  { code: 'readings_disagree', label: 'The readings contradict each other' },
  { code: 'interval_reaches_tolerance', label: 'The reading error leaves open which side of the tolerance it is on' },
  { code: 'seat_depth_not_checked', label: 'The gap between calf and seat was not recorded' },
  { code: 'flexion_beyond_the_rule_of_thumb', label: 'The rule of thumb does not reach so much flexion' },
  { code: 'gap_below_two_fingers', label: 'The gap between calf and seat is less than two fingers' },
] as const satisfies readonly CodeEntry[]

const LIMBS_AND_RATIOS = [
  { code: 'no_episode', label: 'No episode says which limb is involved' },
  { code: 'no_involved_side', label: 'The episode has no involved limb' },
  { code: 'both_limbs_involved', label: 'Both limbs are involved: neither can stand as the reference' },
  { code: 'other_limb_had_surgery', label: 'The other limb was operated on' },
  { code: 'other_limb_gave_graft', label: 'The other limb gave the graft' },
  { code: 'other_limb_not_tested_in_session', label: 'The other limb was not tested in this session' },
  { code: 'more_than_one_result_for_side', label: 'The session has more than one result of this limb' },
  { code: 'setups_not_comparable', label: 'The limbs were set up too differently to be compared' },
  { code: 'setups_not_assessable', label: 'Too little is known of the setups to compare the limbs' },
  { code: 'negative_value', label: 'A value is below zero' },
  { code: 'zero_denominator', label: 'The value to divide by is zero' },
  { code: 'denominator_too_small', label: 'The torque to divide by is too small for a steady ratio' },
  { code: 'gravity_state_differs', label: 'One torque is corrected for gravity and the other is not' },
  { code: 'not_gravity_corrected', label: 'The torque is not corrected for gravity' },
  { code: 'no_pre_injury_test_of_other_limb', label: 'The other limb was not tested before injury or surgery' },
  { code: 'baseline_not_comparable', label: 'The earlier test may not be compared with this one' },
  { code: 'baseline_not_assessable', label: 'Too little is known of the earlier test to compare it' },
] as const satisfies readonly CodeEntry[]

const CHANGE_AND_ERROR = [
  { code: 'not_comparable', label: 'The tests may not be compared' },
  { code: 'not_assessable', label: 'Too little is known to say whether the tests may be compared' },
  { code: 'not_positive', label: 'A value is not above zero, which a percentage needs' },
  { code: 'no_test', label: 'There is no test' },
  { code: 'no_published_error_for_this_test', label: 'No measurement error is known for this test' },
  { code: 'sample_population_unknown', label: 'Not known whom the measurement error was found in' },
  { code: 'limb_condition_unknown', label: 'Not known whether the limb is injured or operated' },
  { code: 'population_mismatch', label: 'The measurement error was found in other people than this one' },
  { code: 'healthy_sample_for_injured_limb', label: 'The error was found in uninjured limbs; this one is injured' },
  {
    code: 'healthy_sample_for_recently_operated_limb',
    label: 'The error was found in uninjured limbs; this one was operated on lately',
  },
  { code: 'fewer_than_three_comparable_points', label: 'Fewer than three tests may be compared' },
  { code: 'all_on_one_day', label: 'All tests are of one day' },
  { code: 'too_scattered', label: 'The tests scatter too much to tell a level course from a change' },
  { code: 'sem_from_few_pairs', label: 'The measurement error rests on too few pairs to tell' },
  { code: 'fewer_than_three_pairs', label: 'There are fewer than three pairs of tests' },
  { code: 'no_pairs', label: 'There are no pairs' },
  { code: 'no_variance', label: 'The pairs do not differ at all' },
  { code: 'no_variance_between_subjects', label: 'The subjects do not differ, so reliability cannot be told' },
  { code: 'too_few_subjects_or_trials', label: 'Too few subjects or trials' },
  { code: 'declared_independent_within_session', label: 'Divided: the repetitions were declared independent' },
  {
    code: 'between_session_error_does_not_shrink',
    label: 'Not divided: repetitions do not shrink the error between days',
  },
] as const satisfies readonly CodeEntry[]

const CRITERIA = [
  { code: 'missing', label: 'There is no such test or answer' },
  { code: 'no_value', label: 'The latest attempt gave no value' },
  { code: 'stale', label: 'The latest test is older than the criterion allows' },
  { code: 'involved_side_unknown', label: 'The involved side is not recorded' },
  { code: 'no_uninvolved_limb', label: 'Both limbs are involved, so there is none to compare with' },
  { code: 'involved_limb_missing', label: 'The involved limb was not tested in the latest session' },
  { code: 'other_limb_missing', label: 'The other limb was not tested in the latest session' },
  { code: 'not_of_one_session', label: 'The two torques are not of one session' },
  { code: 'contradicting_values', label: 'Attempts of the same time contradict each other' },
  { code: 'comparable_with_caution_only', label: 'The tests compare with caution only, and more is asked for' },
  { code: 'comparability_not_assessable', label: 'Too little is known to say whether the tests may be compared' },
  { code: 'comparability_unknown', label: 'Whether the tests may be compared was not judged' },
  { code: 'standing_unknown', label: 'Not known whether the result stands' },
  { code: 'unit_differs', label: 'The value has a unit of another kind' },
  { code: 'not_a_number', label: 'The value is not a number' },
  { code: 'no_usable_denominator', label: 'The value to divide by is zero or not usable' },
  { code: 'no_pre_injury_test', label: 'There is no test from before injury or surgery' },
  { code: 'no_surgery_date', label: 'The date of surgery is not recorded' },
  { code: 'before_surgery', label: 'The date asked for is before surgery' },
  { code: 'sex_unknown', label: 'The threshold depends on sex, which is not recorded' },
  { code: 'not_answered', label: 'The clinician has not stated it' },
  { code: 'form_version_unknown', label: 'The version of the form was not recorded' },
  { code: 'form_version_differs', label: 'The form was of another version than the criterion asks for' },
  { code: 'too_few_items_answered', label: 'Too few items of the form were answered' },
  { code: 'outside_the_form', label: 'The total is beyond what the form can give' },
  { code: 'pain_not_recorded', label: 'The pain during the test was not recorded' },
] as const satisfies readonly CodeEntry[]

const AUDIT_LOG = [
  { code: 'erased', label: 'The text was erased with its subject' },
  { code: 'not_decryptable', label: 'The text cannot be decrypted' },
  { code: 'no_witness', label: 'No witness of the log was found to check it against' },
  { code: 'witness_damaged', label: 'The witness of the log does not hold together' },
  { code: 'event_missing', label: 'An event that the log vouches for is not there' },
  { code: 'event_differs_from_leaf', label: 'An event is not what the log vouches for' },
] as const satisfies readonly CodeEntry[]

const HOLDS = FLAG_CODES.filter(({ usualLevel }) => usualLevel === 'hold').map(({ code, label }) => ({ code, label }))

const REPEATS_AND_REANALYSES = [
  { code: 'first_test_missing', label: 'The test that this one repeats was not found' },
  { code: 'first_test_has_no_value', label: 'The test that this one repeats has no value that counts' },
  { code: 'too_many_days_apart', label: 'The two tests lie too many days apart' },
  { code: 'other_limb_condition', label: 'The limb is not of the kind that was asked for' },
  { code: 'another_pair_of_this_person', label: 'A later pair stands for this person' },
  { code: 'no_recording', label: 'The values were reported, so there is nothing to analyse again' },
  { code: 'too_many_tests', label: 'The history is longer than is analysed again at once' },
] as const

export const REASON_CODES: readonly CodeEntry[] = [
  ...MEASURES,
  ...LIMB_WEIGHT,
  ...AXIS_AND_SEAT,
  ...LIMBS_AND_RATIOS,
  ...CHANGE_AND_ERROR,
  ...CRITERIA,
  ...AUDIT_LOG,
  ...REPEATS_AND_REANALYSES,
  ...REPETITION_REASONS,
  ...HOLDS,
]

/** A value or verdict stands, and this has to be kept in mind with it. */
export const CAUTION_CODES = [
  { code: 'comparable_with_caution', label: 'The tests compare with caution' },
  { code: 'no_measurement_error_known', label: 'No measurement error is known; the scatter of the tests was used' },
  {
    code: 'patient_sample_for_limb_without_history',
    label: 'The error was found in patients; this limb has no history',
  },
  {
    code: 'healthy_sample_for_operated_limb',
    label: 'The error was found in uninjured limbs; this one was operated on',
  },
  { code: 'sample_sex_not_stated', label: 'The source of the error does not state the sex of its sample' },
  { code: 'sample_age_not_stated', label: 'The source of the error does not state the age of its sample' },
  { code: 'age_not_compared', label: 'The age is not known, so it was not compared with the sample' },
  { code: 'clinic_pairs_too_few', label: "The clinic's own error rests on too few pairs and was not used" },
  { code: 'clinic_population_mismatch', label: "The clinic's own error is of other people and was not used" },
  { code: 'mean_shift_in_retests', label: 'Second tests differ from first ones on average: learning is in the error' },
  { code: 'other_limb_has_history', label: 'The other limb was injured or operated on before' },
  { code: 'other_limb_history_unknown', label: 'The history of the other limb is not known' },
  { code: 'other_limb_gave_graft', label: 'The other limb gave the graft' },
  { code: 'graft_side_unknown', label: 'Which limb gave the graft is not known' },
] as const satisfies readonly CodeEntry[]

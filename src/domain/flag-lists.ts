/**
 * The flags put on a session, a set, a result or a repetition, and the warnings beside a proposed setup. A flag asks a
 * person to look; it accuses no one. The same flag may be graver in one document than in another: the level is usual.
 */
import type { CodeEntry } from './code-lists.ts'

export interface FlagEntry extends CodeEntry {
  readonly usualLevel: 'note' | 'caution' | 'hold'
}

/** Against the subject's own history, the stops and the setup. */
const HAZARDS = [
  { code: 'possible_unit_error', usualLevel: 'hold', label: 'A value looks as if it was sent in another unit' },
  { code: 'possible_side_swap', usualLevel: 'hold', label: 'Left and right look exchanged' },
  { code: 'impossible_value', usualLevel: 'hold', label: 'A value is beyond what a person can reach' },
  { code: 'pain_limited', usualLevel: 'hold', label: 'Pain above the limit: the values show pain, not strength' },
  { code: 'pain_not_recorded', usualLevel: 'caution', label: 'The pain during the test was not recorded' },
  { code: 'body_mass_changed', usualLevel: 'note', label: 'The body mass differs from that of the last test' },
  { code: 'angle_range_differs', usualLevel: 'caution', label: 'The limb moved less or more than the stops allow for' },
  { code: 'seat_depth_gap', usualLevel: 'caution', label: 'The seat may press into the calf in the planned flexion' },
] as const satisfies readonly FlagEntry[]

/** Against the clinic's own records. */
const RECORDS = [
  {
    code: 'first_session',
    usualLevel: 'note',
    label: 'First test without earlier practice: learning may look like gain',
  },
  { code: 'screening_incomplete', usualLevel: 'note', label: 'Not every screening question has an answer' },
  { code: 'contraindication_reported', usualLevel: 'caution', label: 'A screening question was answered yes' },
  { code: 'precaution_broken', usualLevel: 'caution', label: 'The set goes beyond a precaution of the episode' },
  { code: 'calibration_unknown', usualLevel: 'note', label: 'No calibration check before the test is on record' },
  { code: 'calibration_overdue', usualLevel: 'caution', label: 'A calibration check was due before the test' },
  {
    code: 'calibration_drift',
    usualLevel: 'caution',
    label: 'The last calibration check before the test was off by more than the clinic allows',
  },
] as const satisfies readonly FlagEntry[]

/** Why a recording cannot be analysed; also the reason on each of its measures. */
const RECORDINGS_NOT_ANALYSED = [
  { code: 'time_not_finite', usualLevel: 'hold', label: 'A time stamp of the recording is not a number' },
  { code: 'time_not_monotonic', usualLevel: 'hold', label: 'The time of the recording runs backwards' },
  { code: 'too_few_samples', usualLevel: 'hold', label: 'The recording is too short to work with' },
  {
    code: 'sample_rate_out_of_range',
    usualLevel: 'hold',
    label: 'The sample rate is too low or too high to work with',
  },
  { code: 'too_many_samples_missing', usualLevel: 'hold', label: 'More of the recording is missing than is there' },
  { code: 'no_torque_values', usualLevel: 'hold', label: 'The recording holds no usable torque' },
  { code: 'no_angle_values', usualLevel: 'hold', label: 'The recording holds no usable angle' },
  {
    code: 'movement_pair_differs',
    usualLevel: 'hold',
    label: 'The signs of the recording name movements of another axis',
  },
  {
    code: 'unsigned_torque_has_no_direction',
    usualLevel: 'hold',
    label: 'Torque without sign cannot be shared out between two isometric directions',
  },
] as const satisfies readonly FlagEntry[]

const RECORDINGS = [
  { code: 'recording_repeated', usualLevel: 'hold', label: 'The same recording stands under more than one set' },
  {
    code: 'sign_convention_doubtful',
    usualLevel: 'hold',
    label: 'Torque and movement do not go together: a sign may be wrong',
  },
  { code: 'possible_angle_in_radians', usualLevel: 'hold', label: 'The angle looks as if it was sent in radians' },
  {
    code: 'torque_saturated',
    usualLevel: 'hold',
    label: 'The torque stays at its largest value: the range may be exceeded',
  },
  {
    code: 'torque_unsigned',
    usualLevel: 'caution',
    label: 'The torque has no sign; it was given that of the movement',
  },
  {
    code: 'velocity_contradicts_angle',
    usualLevel: 'caution',
    label: 'The recorded velocity does not match the angle',
  },
  { code: 'samples_missing', usualLevel: 'caution', label: 'Samples are missing from the recording' },
  { code: 'values_missing', usualLevel: 'note', label: 'Single values were missing and were filled in' },
  { code: 'duplicate_time_stamps', usualLevel: 'note', label: 'Time stamps are repeated' },
  {
    code: 'uneven_time_resampled',
    usualLevel: 'note',
    label: 'Samples were uneven in time and were brought to an even rate',
  },
  {
    code: 'filtered_by_device',
    usualLevel: 'note',
    label: 'The device had filtered the torque; it was not filtered again',
  },
  {
    code: 'device_filter_unknown',
    usualLevel: 'caution',
    label: 'Not known whether the device had filtered the torque',
  },
  {
    code: 'cutoff_too_near_nyquist',
    usualLevel: 'caution',
    label: 'The sample rate is too low for the filter; none was used',
  },
  {
    code: 'windowed_by_device',
    usualLevel: 'caution',
    label: 'The device had cut the recording to a window of its own',
  },
  {
    code: 'device_windowing_unknown',
    usualLevel: 'caution',
    label: 'Not known whether the device had cut the recording',
  },
  {
    code: 'gravity_corrected_by_device',
    usualLevel: 'note',
    label: 'The device corrected for gravity; the weighing was not used',
  },
  {
    code: 'gravity_not_corrected',
    usualLevel: 'caution',
    label: 'Gravity is in the torque: there is no usable limb weighing',
  },
  {
    code: 'gravity_correction_unknown',
    usualLevel: 'caution',
    label: 'Not known whether gravity was taken out of the torque',
  },
  { code: 'not_gravity_corrected', usualLevel: 'caution', label: 'The reported values are not corrected for gravity' },
  { code: 'processing_unknown', usualLevel: 'caution', label: 'Not known how the reported values were computed' },
] as const satisfies readonly FlagEntry[]

const REPETITIONS = [
  { code: 'no_repetition_found', usualLevel: 'caution', label: 'No repetition was found in the set' },
  { code: 'no_counted_repetition', usualLevel: 'caution', label: 'No repetition of the set counts' },
  { code: 'repetition_count_differs', usualLevel: 'note', label: 'More or fewer repetitions than intended' },
  { code: 'repetition_note_unmatched', usualLevel: 'caution', label: 'A note names a repetition that was not found' },
  { code: 'repetitions_vary', usualLevel: 'note', label: 'Peak torque varies much between the repetitions' },
  {
    code: 'contraction_mode_differs',
    usualLevel: 'caution',
    label: 'In some repetitions the muscle worked the other way',
  },
  { code: 'positioning_movements', usualLevel: 'note', label: 'Slow movements were taken for positioning' },
  { code: 'peak_torque_near_edge', usualLevel: 'caution', label: 'The peak lies at the edge of the load range' },
  { code: 'velocity_overshoot', usualLevel: 'note', label: 'The limb overshot the set speed before the load range' },
  { code: 'limb_moved', usualLevel: 'note', label: 'The joint moved during an isometric contraction' },
  { code: 'onset_not_found', usualLevel: 'note', label: 'The start of the contraction was not found' },
] as const satisfies readonly FlagEntry[]

const SETUPS = [
  {
    code: 'axis_checked_before_last_adjustment',
    usualLevel: 'caution',
    label: 'Something was adjusted after the axis check',
  },
  {
    code: 'weighed_before_last_adjustment',
    usualLevel: 'caution',
    label: 'Something was adjusted after the limb was weighed',
  },
  {
    code: 'zero_before_last_adjustment',
    usualLevel: 'caution',
    label: 'Something was adjusted after the zero was set',
  },
  {
    code: 'axis_check_time_unknown',
    usualLevel: 'caution',
    label: 'Not known whether the axis was checked after the last adjustment',
  },
  {
    code: 'zero_time_unknown',
    usualLevel: 'caution',
    label: 'Not known whether the zero was set after the last adjustment',
  },
  {
    code: 'weighing_time_unknown',
    usualLevel: 'caution',
    label: 'Not known whether the limb was weighed after the last adjustment',
  },
  { code: 'weighed_near_level', usualLevel: 'note', label: 'Weighed near level: tight tissue is weighed as limb' },
  {
    code: 'pad_travel_clear',
    usualLevel: 'caution',
    label: 'The pad clearly moves along the limb: the axes do not agree',
  },
  { code: 'pad_travel_slight', usualLevel: 'note', label: 'The pad moves slightly along the limb' },
  { code: 'thigh_strap_overtight', usualLevel: 'caution', label: 'The thigh strap was overtight' },
] as const satisfies readonly FlagEntry[]

export const FLAG_CODES = [
  ...HAZARDS,
  ...RECORDS,
  ...RECORDINGS_NOT_ANALYSED,
  ...RECORDINGS,
  ...REPETITIONS,
  ...SETUPS,
] as const

/** What makes a start value for the next test doubtful. */
export const SETUP_WARNING_CODES = [
  { code: 'no_reference', label: 'No setup is pinned for this limb on this machine' },
  { code: 'other_dynamometer', label: 'The last test was on another machine: its dials do not carry over' },
  { code: 'mirrored', label: 'Some values come from the other limb' },
  { code: 'start_value_unknown', label: 'Some dials have no value on record' },
  { code: 'not_in_description', label: 'Some values are not in the description of the machine any more' },
  { code: 'description_changed', label: 'Recorded under another version of the description of the machine' },
  { code: 'old', label: 'The values are more than half a year old' },
  { code: 'axis_not_checked', label: 'The axis was not checked at that test' },
  { code: 'axis_not_agreeing', label: 'The axes did not agree at that test' },
  { code: 'reference_amended', label: 'The session that was pinned has been amended since' },
  { code: 'reference_withdrawn', label: 'The session that was pinned was entered in error' },
  { code: 'calibration_unknown', label: 'No calibration check of this machine is on record' },
  { code: 'calibration_overdue', label: 'A calibration check of this machine is due' },
  { code: 'calibration_drift', label: 'The last calibration check was off by more than the clinic allows' },
] as const satisfies readonly CodeEntry[]

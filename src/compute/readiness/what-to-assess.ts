import type { Criterion, StrengthSeries } from './criteria-set.ts'

/** One line of the to-do list: what would make a criterion assessable. Plain words for people; the reason stays a code word. */
export function whatToAssess(criterion: Criterion, reason: string): string {
  const because = remedies[reason]
  if (because !== undefined) return because
  const test = testOf(criterion)
  switch (reason) {
    case 'missing':
    case 'no_value':
    case 'not_answered':
      return test
    case 'stale':
      return `${test}, again: the last one is older than ${criterion.maximumAgeDays} days`
    case 'involved_limb_missing':
      return `${test}: the involved limb was not tested in the latest session`
    case 'other_limb_missing':
      return `${test}: the other limb was not tested in the latest session`
    default:
      return `${test}, again: the latest attempt gave no usable value (${reason})`
  }
}

const remedies: Readonly<Record<string, string>> = {
  involved_side_unknown: 'the involved side, recorded in the episode',
  no_uninvolved_limb: 'a criterion that does not compare the limbs: both are involved',
  sex_unknown: "the subject's sex, on which the published threshold depends",
  no_surgery_date: 'the date of the operation, recorded in the episode',
  before_surgery: 'a date after the operation',
  no_pre_injury_test:
    'a test of the other limb from before the injury or operation; a later one cannot stand in for it',
  pain_not_recorded: 'the pain during the latest test, recorded',
  gravity_correction_unknown: 'whether the latest torque was gravity-corrected, recorded',
  possible_unit_error: "a clinician's resolution of the flag on the unit",
  form_version_unknown: 'the version of the form, recorded',
}

function testOf(criterion: Criterion): string {
  switch (criterion.kind) {
    case 'strength_symmetry':
      return criterion.expression === 'pre_injury_capacity'
        ? `${seriesInWords(criterion.series)} of the involved limb`
        : `${seriesInWords(criterion.series)} of both limbs in one session, with setups that may be compared`
    case 'strength_ratio':
      return `${seriesInWords(criterion.numerator)} and ${seriesInWords(criterion.denominator)} of the involved limb in one session, gravity-corrected`
    case 'normalised_torque':
      return `${seriesInWords(criterion.series)} of the involved limb, with the body mass of that day`
    case 'functional_symmetry':
      return `${criterion.test.replaceAll('_', ' ')} of both limbs in one session`
    case 'functional_value':
      return `${criterion.test.replaceAll('_', ' ')}${criterion.limb === 'involved' ? ' of the involved limb' : ''}`
    case 'questionnaire_total':
      return `a total of the questionnaire ${criterion.questionnaire}`
    case 'time_since_surgery':
      return 'the date of the operation, recorded in the episode'
    case 'clinician_observation':
      return criterion.needs
  }
}

function seriesInWords(series: StrengthSeries): string {
  const speed = series.velocityDegS === null ? '' : ` at ${series.velocityDegS} deg/s`
  return `a strength test of ${series.movement.replaceAll('_', ' ')}${speed}`
}

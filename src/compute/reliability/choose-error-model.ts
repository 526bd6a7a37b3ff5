import type { ReasonCode } from '../types.ts'
import type { ClinicError, ErrorModel, ErrorQuery, ErrorScale, LimbCondition, TestedPerson } from './error-model.ts'
import { minimalDetectableChange, percentChangeLimits, requireConfidence } from './minimal-detectable-change.ts'
import { PUBLISHED_ERRORS, type PublishedError } from './published-errors.ts'

/** Below this a clinic's own error is too poorly known to be used (common practice, no source). */
export const MINIMUM_CLINIC_PAIRS = 10

/** Up to this long after an operation a healthy sample says nothing about the limb (engineering choice, no source). */
export const RECENT_SURGERY_MONTHS = 12

type Match =
  | { readonly allowed: true; readonly caution: ReasonCode | null }
  | { readonly allowed: false; readonly reason: ReasonCode }

/**
 * May an error measured in one population be used for this person's limb?
 *
 * The rule, in full:
 * - the same condition: yes;
 * - a healthy sample for an operated limb: no within RECENT_SURGERY_MONTHS or when the date is unknown, afterwards with caution;
 * - a healthy sample for an injured or arthritic limb, or one of unknown condition: no. The error of painful, inhibited muscle is larger
 *   (published errors in knee osteoarthritis are two to four times those of healthy samples), so a healthy one would invent changes;
 * - a patient sample for a limb without history: with caution (its error is rather too large, which hides changes but invents none);
 * - any other mixture: no.
 * Errors: none. Source: the rule is ours; the reason for it is in PUBLISHED_ERRORS.
 * What for: an error that is too small invents changes. Units: months. Limits: conditions are coarse words; local
 * knowledge may be finer. When not to use it: for the choice between two errors that both match.
 *
 * @example populationMatch('no_history', { limbCondition: 'operated', monthsSinceSurgery: 3, sex: 'male', ageYears: 24 })
 * // { allowed: false, reason: 'healthy_sample_for_recently_operated_limb' }
 */
export function populationMatch(sample: LimbCondition, person: TestedPerson): Match {
  const limb = person.limbCondition
  if (sample === 'unknown') return { allowed: false, reason: 'sample_population_unknown' }
  if (limb === 'unknown') return { allowed: false, reason: 'limb_condition_unknown' }
  if (sample === limb) return { allowed: true, caution: null }
  if (limb === 'no_history') return { allowed: true, caution: 'patient_sample_for_limb_without_history' }
  if (sample !== 'no_history') return { allowed: false, reason: 'population_mismatch' }
  if (limb === 'injured') return { allowed: false, reason: 'healthy_sample_for_injured_limb' }
  if (limb === 'osteoarthritis') return { allowed: false, reason: 'population_mismatch' }
  const months = person.monthsSinceSurgery
  return months !== null && months >= RECENT_SURGERY_MONTHS
    ? { allowed: true, caution: 'healthy_sample_for_operated_limb' }
    : { allowed: false, reason: 'healthy_sample_for_recently_operated_limb' }
}

/** Sex and age of a published sample against the person: a single-sex sample is not used for the other sex or an unknown one. */
function sampleMatch(
  published: PublishedError,
  person: TestedPerson,
): { reason: ReasonCode } | { cautions: ReasonCode[] } {
  const { population } = published
  const limb = populationMatch(population.limbCondition, person)
  if (!limb.allowed) return { reason: limb.reason }
  const cautions: ReasonCode[] = limb.caution === null ? [] : [limb.caution]
  if (population.sex === 'not_stated') cautions.push('sample_sex_not_stated')
  else if (population.sex !== 'mixed' && population.sex !== person.sex) return { reason: 'population_mismatch' }
  if (population.ageYears === null) cautions.push('sample_age_not_stated')
  else if (person.ageYears === null) cautions.push('age_not_compared')
  else if (person.ageYears < population.ageYears.low || person.ageYears > population.ageYears.high) {
    return { reason: 'population_mismatch' }
  }
  return { cautions }
}

function describesTest(published: PublishedError, query: ErrorQuery): boolean {
  return (
    published.joint === query.joint &&
    published.movements.includes(query.movement) &&
    published.measures.includes(query.measure) &&
    (published.contractionModes?.includes(query.contractionMode) ?? false) &&
    (published.velocitiesDegS?.includes(query.velocityDegS) ?? false)
  )
}

function mdcOn(scale: ErrorScale, sem: number, confidence: number): number {
  return scale === 'percent' ? percentChangeLimits(sem, confidence).highPct : minimalDetectableChange(sem, confidence)
}

/**
 * Chooses the measurement error that a change of one measure is judged with, or says why there is none.
 *
 * Order: the clinic's own test-retest data where there are MINIMUM_CLINIC_PAIRS pairs or more from like limbs; else a published error for
 * exactly this joint, movement, contraction mode, velocity and measure in a like population; else none. Where a publication prints a range,
 * its upper end is used, and where several publications match, the largest relative or absolute error of the first scale found in favour of
 * percent: an error that is too large hides a change, one that is too small invents it.
 * A clinic's error that was passed over leaves its reason among the cautions.
 * Units: sem and mdc in the unit of the measure for scale absolute, percent for scale percent (mdc is then the rise of the log model).
 * Errors: RangeError for a confidence outside (0, 1).
 * When not to use it: for a difference between two methods (`limitsOfAgreement`).
 * What for: no change is judged without an error that fits it. Source: engineering choice; the errors themselves in
 * PUBLISHED_ERRORS. Limits: published errors come from other machines and protocols; a clinic's own pairs are better.
 *
 * @example
 * chooseErrorModel({ joint: 'knee', movement: 'extension', contractionMode: 'isokinetic_concentric', velocityDegS: 60,
 *   measure: 'peakTorque', person: { limbCondition: 'operated', monthsSinceSurgery: 3, sex: 'female', ageYears: 22 } }, null, 0.95)
 * // { kind: 'none', reason: 'healthy_sample_for_recently_operated_limb' }
 */
export function chooseErrorModel(
  query: ErrorQuery,
  clinic: ClinicError | null,
  confidence: number,
  publishedErrors: readonly PublishedError[] = PUBLISHED_ERRORS,
): ErrorModel {
  requireConfidence(confidence)
  const passedOver: ReasonCode[] = []
  if (clinic !== null) {
    const match = populationMatch(clinic.limbCondition, query.person)
    if (clinic.pairs < MINIMUM_CLINIC_PAIRS) passedOver.push('clinic_pairs_too_few')
    else if (!match.allowed) passedOver.push('clinic_population_mismatch')
    else {
      const cautions: ReasonCode[] = match.caution === null ? [] : [match.caution]
      if (clinic.meanShiftDetected) cautions.push('mean_shift_in_retests')
      return {
        kind: 'clinic_test_retest',
        scale: clinic.scale,
        sem: clinic.sem,
        mdc: mdcOn(clinic.scale, clinic.sem, confidence),
        confidence,
        degreesOfFreedom: clinic.degreesOfFreedom,
        n: clinic.pairs,
        source: clinic.source,
        cautions,
      }
    }
  }
  let reason: ReasonCode = 'no_published_error_for_this_test'
  let chosen: { published: PublishedError; cautions: ReasonCode[] } | null = null
  for (const published of publishedErrors) {
    if (!describesTest(published, query)) continue
    const match = sampleMatch(published, query.person)
    if ('reason' in match) {
      reason = match.reason
      continue
    }
    const best = chosen?.published
    const larger =
      best === undefined ||
      (published.scale === best.scale ? published.sem.high > best.sem.high : published.scale === 'percent')
    if (larger) chosen = { published, cautions: match.cautions }
  }
  if (chosen === null) return { kind: 'none', reason }
  const { published, cautions } = chosen
  return {
    kind: 'published',
    scale: published.scale,
    sem: published.sem.high,
    mdc: mdcOn(published.scale, published.sem.high, confidence),
    confidence,
    degreesOfFreedom: null,
    n: published.n,
    source: published.source,
    cautions: [...cautions, ...passedOver],
  }
}

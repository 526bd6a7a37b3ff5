import type { ComparabilityVerdict } from '../comparability/index.ts'
import type { Side } from '../types.ts'
import { convert, unitKind } from '../units/index.ts'
import { instantOf, localDay, monthsBetween, dayNumber } from './calendar.ts'
import type { Criterion, StrengthSeries } from './criteria-set.ts'
import type {
  Evidence,
  EvaluationContext,
  EvidenceInterval,
  LimbValue,
  Outcome,
  PreInjuryReference,
  StrengthEvidence,
} from './evidence.ts'

export type EvidenceReference =
  | { readonly resultId: string; readonly measure: string; readonly statistic: string }
  | { readonly functionalResultId: string }
  | { readonly observationId: string }

export type NumberOrReason =
  | { readonly value: number; readonly unit: string }
  | { readonly value: null; readonly unit: string; readonly reason: string }

/** What one candidate piece of evidence says: a number, a word, or the reason for neither. */
export interface Finding {
  readonly value: number | string | null
  /** Set exactly where `value` is null. */
  readonly reason: string | null
  readonly unit: string | null
  readonly interval: EvidenceInterval | null
  /** Date of the oldest part, as a day number; null where nothing was attempted. */
  readonly day: number | null
  readonly comparability: ComparabilityVerdict | null
  readonly evidence: readonly EvidenceReference[]
  readonly beside: { readonly estimatedPreInjuryCapacity: NumberOrReason } | null
}

type Asked<K extends Criterion['kind']> = Extract<Criterion, { kind: K }>

/** Pain above this stops a test and hides the strength (BMJ Open Sport Exerc Med consensus, table 3). */
const PAIN_LIMIT = 3
/** A set speed sent in rounded rad/s is still that speed. */
const SAME_VELOCITY_DEG_S = 0.5

/**
 * The evidence in force for a criterion: what the latest ATTEMPT says, one finding per test where the criterion leaves the test open.
 * There is no falling back to an older, better attempt; an attempt that gave nothing is a finding without value.
 */
export function findEvidence(criterion: Criterion, evidence: Evidence, context: EvaluationContext): readonly Finding[] {
  switch (criterion.kind) {
    case 'strength_symmetry':
      return strengthSymmetry(criterion, evidence, context)
    case 'strength_ratio':
      return strengthRatio(criterion, evidence, context)
    case 'normalised_torque':
      return normalisedTorque(criterion, evidence, context)
    case 'functional_symmetry':
      return [functionalSymmetry(criterion, evidence, context)]
    case 'functional_value':
      return [functionalValue(criterion, evidence, context)]
    case 'questionnaire_total':
      return [questionnaireTotal(criterion, evidence, context)]
    case 'time_since_surgery':
      return [timeSinceSurgery(criterion, context)]
    case 'clinician_observation':
      return [observation(criterion, evidence, context)]
  }
}

function finding(
  parts: Partial<Finding> & ({ readonly value: number | string } | { readonly reason: string }),
): Finding {
  return {
    value: null,
    reason: null,
    unit: null,
    interval: null,
    day: null,
    comparability: null,
    evidence: [],
    beside: null,
    ...parts,
  }
}

/** Attempts up to and including the date evaluated. */
function upTo<T extends { readonly performedAt: string }>(items: readonly T[], on: string): readonly T[] {
  const last = dayNumber(on)
  return items.filter((item) => localDay(item.performedAt) <= last)
}

/** All items of the session in which the latest of them was attempted; two sessions at one instant count together. */
function latestSession<T extends { readonly performedAt: string; readonly sessionId: string }>(
  items: readonly T[],
): readonly T[] {
  const latest = Math.max(...items.map((item) => instantOf(item.performedAt)))
  const sessions = new Set(items.filter((item) => instantOf(item.performedAt) === latest).map((item) => item.sessionId))
  return items.filter((item) => sessions.has(item.sessionId))
}

/** The last attempts of a list; more than one only where they share an instant. */
function lastOf<T extends { readonly performedAt: string }>(items: readonly T[]): readonly T[] {
  const latest = Math.max(...items.map((item) => instantOf(item.performedAt)))
  return items.filter((item) => instantOf(item.performedAt) === latest)
}

function strengthInForce(series: StrengthSeries, evidence: Evidence, on: string): readonly StrengthEvidence[] {
  const matching = upTo(evidence.strength, on).filter(
    (item) =>
      item.movement === series.movement &&
      (series.contractionMode === null || item.contractionMode === series.contractionMode) &&
      (series.velocityDegS === null || Math.abs(item.velocityDegS - series.velocityDegS) <= SAME_VELOCITY_DEG_S) &&
      item.measure === series.measure &&
      item.statistic === series.statistic,
  )
  const inSession = latestSession(matching)
  const tests = Map.groupBy(inSession, (item) => `${item.contractionMode} ${Math.round(item.velocityDegS)}`)
  return [...tests.values()].flatMap(lastOf)
}

function sidesOf(context: EvaluationContext): { readonly involved: Side; readonly other: Side } | string {
  if (context.involvedSide === null) return 'involved_side_unknown'
  if (context.involvedSide === 'bilateral') return 'no_uninvolved_limb'
  return { involved: context.involvedSide, other: context.involvedSide === 'left' ? 'right' : 'left' }
}

function outcomeIn(outcome: Outcome, unit: string): number | string {
  if (outcome.value === null)
    return typeof outcome.reason === 'string' && outcome.reason !== '' ? outcome.reason : 'no_value'
  if (!Number.isFinite(outcome.value)) return 'not_a_number'
  // Nothing a person does reaches this in any accepted unit; it keeps the arithmetic inside the range of numbers
  if (Math.abs(outcome.value) > 1e12) return 'impossible_value'
  const kind = unitKind(outcome.unit)
  if (kind === null || kind !== unitKind(unit)) return 'unit_differs'
  return convert(outcome.value, outcome.unit, unit)
}

/** A limb's number, or the first reason why it may not be used. */
function limbNumber(
  limb: LimbValue | null,
  unit: string,
  needsGravityCorrection: 'stated' | 'corrected' | 'none',
): number | string {
  if (limb === null) return 'missing'
  if (limb.standing !== 'in_force') return reasonOfStanding(limb.standing)
  const value = outcomeIn(limb.outcome, unit)
  if (typeof value === 'string') return value
  if (limb.painDuring === null || !Number.isFinite(limb.painDuring)) return 'pain_not_recorded'
  if (limb.painDuring > PAIN_LIMIT) return 'pain_limited'
  if (needsGravityCorrection !== 'none' && !['yes', 'no'].includes(limb.gravityCorrected))
    return 'gravity_correction_unknown'
  if (needsGravityCorrection === 'corrected' && limb.gravityCorrected !== 'yes') return 'not_gravity_corrected'
  return value
}

function reasonOfStanding(standing: string): string {
  return standing === '' || typeof standing !== 'string' ? 'standing_unknown' : standing
}

/** Seated, an uncorrected extension errs low and is known to; every other movement may err either way and by far more. */
function gravityNeed(series: StrengthSeries): 'stated' | 'none' {
  return series.movement === 'extension' && series.measure.startsWith('peakTorque') ? 'none' : 'stated'
}

function unitOf(limb: LimbValue): string {
  return limb.outcome.value === null ? 'N.m' : limb.outcome.unit
}

function limbReferences(item: StrengthEvidence, limbs: readonly (LimbValue | null)[]): readonly EvidenceReference[] {
  return limbs
    .filter((limb) => limb !== null)
    .map((limb) => ({ resultId: limb.resultId, measure: item.measure, statistic: item.statistic }))
}

function strengthSymmetry(
  criterion: Asked<'strength_symmetry'>,
  evidence: Evidence,
  context: EvaluationContext,
): readonly Finding[] {
  const sides = sidesOf(context)
  if (typeof sides === 'string') return [finding({ reason: sides })]
  const items = strengthInForce(criterion.series, evidence, context.on)
  if (items.length === 0) return [finding({ reason: 'missing' })]
  return items.map((item) => {
    const [involved, other] = [item[sides.involved], item[sides.other]]
    const capacity = strengthCapacity(item, involved, sides.other, criterion, evidence)
    if (criterion.expression === 'pre_injury_capacity') {
      const evidenceUsed = limbReferences(item, [involved])
      const common = { unit: '%', day: localDay(item.performedAt), comparability: capacity.comparability }
      return capacity.result.value === null
        ? finding({ ...common, reason: capacity.result.reason, evidence: evidenceUsed })
        : finding({
            ...common,
            value: capacity.result.value,
            evidence: [
              ...evidenceUsed,
              ...capacity.referenceIds.map((resultId) => ({
                resultId,
                measure: item.measure,
                statistic: item.statistic,
              })),
            ],
          })
    }
    const common = {
      unit: '%',
      day: localDay(item.performedAt),
      comparability: item.limbComparability,
      evidence: limbReferences(item, [involved, other]),
      beside: { estimatedPreInjuryCapacity: capacity.result },
    }
    const symmetry = symmetryOf(involved, other, criterion.series)
    if (typeof symmetry === 'string') return finding({ ...common, reason: symmetry })
    const blocked = comparabilityReason(item.limbComparability, criterion.comparabilityNeeded)
    if (blocked !== null) return finding({ ...common, reason: blocked })
    const interval = usableInterval(item.symmetryInterval)
    return criterion.expression === 'symmetry'
      ? finding({ ...common, value: symmetry.symmetry, interval })
      : finding({ ...common, value: symmetry.deficit, interval: interval === null ? null : complement(interval) })
  })
}

function symmetryOf(
  involved: LimbValue | null,
  other: LimbValue | null,
  series: StrengthSeries,
): { readonly symmetry: number; readonly deficit: number } | string {
  if (involved === null) return 'involved_limb_missing'
  if (other === null) return 'other_limb_missing'
  const unit = unitOf(involved)
  const need = gravityNeed(series)
  const [numerator, denominator] = [limbNumber(involved, unit, need), limbNumber(other, unit, need)]
  if (typeof numerator === 'string') return numerator
  if (typeof denominator === 'string') return denominator
  if (!usableQuotient(numerator, denominator)) return 'no_usable_denominator'
  return { symmetry: (100 * numerator) / denominator, deficit: (100 * (denominator - numerator)) / denominator }
}

function comparabilityReason(
  verdict: ComparabilityVerdict | null,
  needed: 'comparable' | 'comparable_with_caution',
): string | null {
  switch (verdict) {
    case 'comparable':
      return null
    case 'comparable_with_caution':
      return needed === 'comparable_with_caution' ? null : 'comparable_with_caution_only'
    case 'not_comparable':
      return 'not_comparable'
    case 'not_assessable':
      return 'comparability_not_assessable'
    case null:
      return 'comparability_unknown'
  }
  return 'comparability_unknown'
}

interface Capacity {
  readonly result: NumberOrReason
  readonly comparability: ComparabilityVerdict | null
  readonly referenceIds: readonly string[]
}

/** 100 x involved now / other limb before injury or operation; never with a later value of the other limb in its place. */
function strengthCapacity(
  item: StrengthEvidence,
  involved: LimbValue | null,
  other: Side,
  criterion: Asked<'strength_symmetry'>,
  evidence: Evidence,
): Capacity {
  const without = (reason: string, comparability: ComparabilityVerdict | null = null): Capacity => ({
    result: { value: null, unit: '%', reason },
    comparability,
    referenceIds: [],
  })
  if (involved === null) return without('involved_limb_missing')
  const unit = unitOf(involved)
  const now = limbNumber(involved, unit, gravityNeed(criterion.series))
  if (typeof now === 'string') return without(now)
  const reference = worstReference(
    evidence.preInjury.filter(
      (candidate) =>
        candidate.side === other &&
        'movement' in candidate.of &&
        candidate.of.movement === item.movement &&
        candidate.of.contractionMode === item.contractionMode &&
        Math.abs(candidate.of.velocityDegS - item.velocityDegS) <= SAME_VELOCITY_DEG_S &&
        candidate.of.measure === item.measure &&
        candidate.of.statistic === item.statistic,
    ),
    unit,
  )
  if (typeof reference === 'string') return without(reference)
  const blocked = comparabilityReason(reference.comparability, criterion.comparabilityNeeded)
  if (blocked !== null) return without(blocked, reference.comparability)
  return {
    result: { value: (100 * now) / reference.value, unit: '%' },
    comparability: reference.comparability,
    referenceIds: [reference.resultId],
  }
}

/** Several references: the strongest limb before injury is the least favourable one, and a doubtful one blocks. */
function worstReference(
  references: readonly PreInjuryReference[],
  unit: string,
): { readonly value: number; readonly resultId: string; readonly comparability: ComparabilityVerdict | null } | string {
  if (references.length === 0) return 'no_pre_injury_test'
  let worst: { value: number; resultId: string; comparability: ComparabilityVerdict | null } | null = null
  for (const { outcome, standing, resultId, comparability } of references) {
    if (standing !== 'in_force') return reasonOfStanding(standing)
    const value = outcomeIn(outcome, unit)
    if (typeof value === 'string') return value
    if (!usableQuotient(0, value)) return 'no_usable_denominator'
    if (worst === null || value > worst.value) worst = { value, resultId, comparability }
  }
  return worst ?? 'no_pre_injury_test'
}

function strengthRatio(
  criterion: Asked<'strength_ratio'>,
  evidence: Evidence,
  context: EvaluationContext,
): readonly Finding[] {
  const sides = sidesOf(context)
  if (typeof sides === 'string') return [finding({ reason: sides })]
  const tops = strengthInForce(criterion.numerator, evidence, context.on)
  const bottoms = strengthInForce(criterion.denominator, evidence, context.on)
  if (tops.length === 0 || bottoms.length === 0) return [finding({ reason: 'missing' })]
  return tops.flatMap((top) =>
    bottoms.map((bottom) => {
      const [numeratorLimb, denominatorLimb] = [top[sides.involved], bottom[sides.involved]]
      const common = {
        unit: '%',
        day: Math.min(localDay(top.performedAt), localDay(bottom.performedAt)),
        evidence: [...limbReferences(top, [numeratorLimb]), ...limbReferences(bottom, [denominatorLimb])],
      }
      if (numeratorLimb === null || denominatorLimb === null)
        return finding({ ...common, reason: 'involved_limb_missing' })
      if (top.sessionId !== bottom.sessionId) return finding({ ...common, reason: 'not_of_one_session' })
      const unit = unitOf(denominatorLimb)
      const numerator = limbNumber(numeratorLimb, unit, 'corrected')
      const denominator = limbNumber(denominatorLimb, unit, 'corrected')
      if (typeof numerator === 'string') return finding({ ...common, reason: numerator })
      if (typeof denominator === 'string') return finding({ ...common, reason: denominator })
      if (!usableQuotient(numerator, denominator)) return finding({ ...common, reason: 'no_usable_denominator' })
      return finding({ ...common, value: (100 * numerator) / denominator })
    }),
  )
}

function normalisedTorque(
  criterion: Asked<'normalised_torque'>,
  evidence: Evidence,
  context: EvaluationContext,
): readonly Finding[] {
  const sides = sidesOf(context)
  if (typeof sides === 'string') return [finding({ reason: sides })]
  const items = strengthInForce(criterion.series, evidence, context.on)
  if (items.length === 0) return [finding({ reason: 'missing' })]
  return items.map((item) => {
    const limb = item[sides.involved]
    const common = { unit: 'N.m/kg', day: localDay(item.performedAt), evidence: limbReferences(item, [limb]) }
    if (limb === null) return finding({ ...common, reason: 'involved_limb_missing' })
    const value = limbNumber(limb, 'N.m/kg', gravityNeed(criterion.series))
    return typeof value === 'string' ? finding({ ...common, reason: value }) : finding({ ...common, value })
  })
}

function functionalSymmetry(
  criterion: Asked<'functional_symmetry'>,
  evidence: Evidence,
  context: EvaluationContext,
): Finding {
  const sides = sidesOf(context)
  if (typeof sides === 'string') return finding({ reason: sides })
  const attempts = upTo(evidence.functional, context.on).filter(
    (item) => item.test === criterion.test && item.side !== null,
  )
  if (attempts.length === 0) return finding({ reason: 'missing' })
  const session = latestSession(attempts)
  const involved = lastOf(session.filter((item) => item.side === sides.involved))
  const other = lastOf(session.filter((item) => item.side === sides.other))
  const withBoth = criterion.expression === 'symmetry'
  const used = withBoth ? [...involved, ...other] : involved
  const common = {
    unit: '%',
    day: Math.min(...session.map((item) => localDay(item.performedAt))),
    evidence: used.map((item) => ({ functionalResultId: item.functionalResultId })),
  }
  if (involved.length === 0) return finding({ ...common, reason: 'involved_limb_missing' })
  const unit = unitOfOutcome(involved)
  const now = agreedNumber(involved, unit)
  if (typeof now === 'string') return finding({ ...common, reason: now })
  const before = worstReference(
    evidence.preInjury.filter(
      (candidate) => candidate.side === sides.other && 'test' in candidate.of && candidate.of.test === criterion.test,
    ),
    unit,
  )
  const capacity: NumberOrReason =
    typeof before === 'string'
      ? { value: null, unit: '%', reason: before }
      : percentOf(now, before.value, criterion.betterWhen)
  if (!withBoth) {
    if (capacity.value === null) return finding({ ...common, reason: capacity.reason })
    const referenceId = typeof before === 'string' ? [] : [{ functionalResultId: before.resultId }]
    return finding({ ...common, value: capacity.value, evidence: [...common.evidence, ...referenceId] })
  }
  const beside = { estimatedPreInjuryCapacity: capacity }
  if (other.length === 0) return finding({ ...common, beside, reason: 'other_limb_missing' })
  const there = agreedNumber(other, unit)
  if (typeof there === 'string') return finding({ ...common, beside, reason: there })
  const symmetry = percentOf(now, there, criterion.betterWhen)
  return symmetry.value === null
    ? finding({ ...common, beside, reason: symmetry.reason })
    : finding({ ...common, beside, value: symmetry.value })
}

interface Attempt {
  readonly functionalResultId: string
  readonly performedAt: string
  readonly outcome: Outcome
  readonly standing: string
}

function unitOfOutcome(attempts: readonly Attempt[]): string {
  return (
    attempts.map(({ outcome }) => (outcome.value === null ? null : outcome.unit)).find((unit) => unit !== null) ?? '1'
  )
}

/** The number of attempts that share an instant; an unusable one among them, or two that disagree, leave none. */
function agreedNumber(attempts: readonly Attempt[], unit: string): number | string {
  const values = attempts.map((item) =>
    item.standing === 'in_force' ? outcomeIn(item.outcome, unit) : reasonOfStanding(item.standing),
  )
  const reason = values.find((value) => typeof value === 'string')
  if (reason !== undefined) return reason
  return new Set(values).size > 1 ? 'contradicting_values' : (values[0] ?? 'missing')
}

/** A denominator of next to nothing makes a quotient that means nothing. */
function usableQuotient(numerator: number, denominator: number): boolean {
  return denominator > 1e-9 && numerator >= 0
}

/** Better when lower: the other way up, so that above 100 always means that the involved limb does better. */
function percentOf(involved: number, other: number, betterWhen: 'higher' | 'lower'): NumberOrReason {
  const [numerator, denominator] = betterWhen === 'higher' ? [involved, other] : [other, involved]
  if (!usableQuotient(numerator, denominator)) return { value: null, unit: '%', reason: 'no_usable_denominator' }
  return { value: (100 * numerator) / denominator, unit: '%' }
}

function functionalValue(
  criterion: Asked<'functional_value'>,
  evidence: Evidence,
  context: EvaluationContext,
): Finding {
  const sides = criterion.limb === 'involved' ? sidesOf(context) : null
  if (typeof sides === 'string') return finding({ reason: sides })
  const attempts = upTo(evidence.functional, context.on).filter(
    (item) => item.test === criterion.test && item.side === (sides === null ? null : sides.involved),
  )
  if (attempts.length === 0) return finding({ reason: 'missing' })
  return singleNumber(attempts, thresholdUnit(criterion))
}

function questionnaireTotal(
  criterion: Asked<'questionnaire_total'>,
  evidence: Evidence,
  context: EvaluationContext,
): Finding {
  const attempts = upTo(evidence.questionnaires, context.on).filter(
    (item) => item.questionnaire === criterion.questionnaire,
  )
  if (attempts.length === 0) return finding({ reason: 'missing' })
  const result = singleNumber(attempts, thresholdUnit(criterion))
  const versions = lastOf(attempts).map((item) => item.formVersion)
  const accepted = criterion.formVersions
  if (accepted === null || result.value === null) return result
  if (versions.some((version) => version === null)) return { ...result, value: null, reason: 'form_version_unknown' }
  const same = versions.every((version) => version !== null && accepted.includes(version))
  return same ? result : { ...result, value: null, reason: 'form_version_differs' }
}

function singleNumber(attempts: readonly Attempt[], unit: string): Finding {
  const last = lastOf(attempts)
  const common = {
    unit,
    day: Math.min(...last.map((item) => localDay(item.performedAt))),
    evidence: last.map((item) => ({ functionalResultId: item.functionalResultId })),
  }
  const value = agreedNumber(last, unit)
  return typeof value === 'string' ? finding({ ...common, reason: value }) : finding({ ...common, value })
}

function timeSinceSurgery(criterion: Asked<'time_since_surgery'>, context: EvaluationContext): Finding {
  const unit = thresholdUnit(criterion)
  if (context.surgeryOn === null) return finding({ reason: 'no_surgery_date', unit })
  const days = dayNumber(context.on) - dayNumber(context.surgeryOn)
  if (days < 0) return finding({ reason: 'before_surgery', unit })
  if (unit === 'mo' || unit === 'a') {
    const months = monthsBetween(context.surgeryOn, context.on)
    return finding({ value: unit === 'mo' ? months : months / 12, unit })
  }
  return finding({ value: convert(days, 'd', unit), unit })
}

function observation(
  criterion: Asked<'clinician_observation'>,
  evidence: Evidence,
  context: EvaluationContext,
): Finding {
  const attempts = upTo(evidence.observations, context.on).filter((item) => item.observation === criterion.observation)
  if (attempts.length === 0) return finding({ reason: 'missing' })
  const last = lastOf(attempts)
  const common = {
    day: Math.min(...last.map((item) => localDay(item.performedAt))),
    evidence: last.map((item) => ({ observationId: item.observationId })),
  }
  const withheld = last.find((item) => item.standing !== 'in_force')
  if (withheld !== undefined) return finding({ ...common, reason: reasonOfStanding(withheld.standing) })
  const words = [...new Set(last.map((item) => item.finding))]
  if (words.length > 1) return finding({ ...common, reason: 'contradicting_values' })
  const word = words[0] ?? null
  return word === null || word === ''
    ? finding({ ...common, reason: 'not_answered' })
    : finding({ ...common, value: word })
}

function thresholdUnit(criterion: Exclude<Criterion, { kind: 'clinician_observation' }>): string {
  return 'bySex' in criterion.threshold ? criterion.threshold.bySex.female.unit : criterion.threshold.unit
}

function usableInterval(interval: EvidenceInterval | null): EvidenceInterval | null {
  return interval !== null && Number.isFinite(interval.low) && Number.isFinite(interval.high) ? interval : null
}

function complement({ low, high, confidence }: EvidenceInterval): EvidenceInterval {
  return { low: 100 - high, high: 100 - low, confidence }
}

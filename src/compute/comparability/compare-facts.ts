import { convert, unitKind } from '../units/index.ts'
import { factDifference, settingDifference, zeroReading } from './differences.ts'
import type { ComparedStatistics, Difference, Quantity, ReasonValue } from './differences.ts'
import { COMPARED_MEASURES } from './facts.ts'
import type { ComparabilityFacts, ComparedMeasure, SettingFact } from './facts.ts'
import { CLINIC_DESCRIPTION_SOURCE, DEFAULT_COMPARABILITY_RULES } from './rules.ts'
import type { ComparabilityRule, RuleLimit } from './rules.ts'

export type ComparabilityVerdict = 'comparable' | 'comparable_with_caution' | 'not_assessable' | 'not_comparable'
export type ReasonEffect = 'note' | 'caution' | 'not_assessable' | 'not_comparable'

export interface ComparabilityReason {
  readonly factor: string
  readonly effect: ReasonEffect
  readonly before: ReasonValue
  readonly now: ReasonValue
  /** How far apart, unrounded, whatever the words of before and now; null for words and for unknown facts. */
  readonly difference: Quantity | null
  /** The limit that was exceeded; null for words and for unknown facts. */
  readonly tolerance: Quantity | null
  readonly source: string
}

export interface Comparability {
  readonly verdict: ComparabilityVerdict
  /** Gravest first, else in the order of the rules. */
  readonly reasons: readonly ComparabilityReason[]
}

const gravity: readonly ReasonEffect[] = ['note', 'caution', 'not_assessable', 'not_comparable']
/** 0.30 m against 0.31 m is 10 mm, not 10.000000000000009 mm. */
const NUMBER_NOISE = 1e-9
const BEST: ComparedStatistics = { before: 'best', now: 'best' }

/**
 * Comparability of two tests of one limb: whether a measure of the one may be set against the same measure of the other.
 *
 * What for: a difference between two tests is a change of the muscle only if nothing else changed. Each rule turns two facts into
 * the size of their difference and that into an effect; the worst effect is the verdict, notes never are.
 *
 * Conventions: an unknown fact counts as the worst a difference in it could do ("not_assessable" where a difference could make the
 * tests not comparable), so leaving a field out never improves a verdict. not_comparable outranks not_assessable, because one known
 * obstacle is enough. The verdict is symmetric in its two tests, and reflexive where every fact is known (`isFullyKnown`) and the
 * test is valid by itself: pain above 3/10 makes it comparable with nothing, itself included. It is NOT transitive: nine steps of
 * 10 mm are each tolerated and make 9 cm. Compare each test with the first member of its run and with the previous one.
 *
 * Settings of a clinic's own machine: a setting whose factor word (stated, else its key in snake_case) has a rule follows that
 * rule; beside it, and for every other setting, the clinic's own tolerance and effect hold, so a description can only add
 * strictness. A setting that one of the two descriptions lacks is unknown on that side.
 *
 * Errors: RangeError for an unknown measure. A number that is not finite counts as unknown.
 * Source: each reason names its own; the limits are proposals (see rules.ts). Limits: judges the setups, not whether a difference
 * exceeds measurement error. Do not use it between the two limbs: `compareLimbs` is for that.
 * Units: each reason carries its own.
 *
 * @example compareFacts({ ...f, trunkStraps: 'both' }, { ...f, trunkStraps: 'none' }, 'peakTorque').verdict // 'not_comparable'
 */
export function compareFacts(
  before: ComparabilityFacts,
  now: ComparabilityFacts,
  measure: ComparedMeasure,
  rules: readonly ComparabilityRule[] = DEFAULT_COMPARABILITY_RULES,
  statistics: ComparedStatistics = BEST,
): Comparability {
  if (!COMPARED_MEASURES.includes(measure)) throw new RangeError(`unknown measure "${String(measure)}"`)
  const reasons: ComparabilityReason[] = []
  for (const rule of rules) {
    if (rule.compares.kind === 'setting') continue
    const difference = factDifference(rule, before, now, statistics)
    const effect = effectOf(rule, rule.limits, difference, measure)
    if (effect !== null) reasons.push(reasonOf(rule.factor, rule.source, rule.unit, difference, effect))
  }
  reasons.push(...settingReasons(before.settings, now.settings, measure, rules))
  reasons.sort((a, b) => gravity.indexOf(b.effect) - gravity.indexOf(a.effect))
  return { verdict: verdictOf(reasons), reasons }
}

/**
 * Comparability of the two limbs of one subject: whether their values may be set against each other as symmetry.
 *
 * As `compareFacts`, but the sides differ on purpose and the settings of the first limb are mirrored before they are compared, as the
 * clinic describes each setting: the same value, the negated value, the same mark on the other side's scale, or a value of its own
 * per side (then not compared).
 *
 * Errors: RangeError when both tests are of the same side. Otherwise as `compareFacts`.
 * What for: a difference between limbs is one of the muscles only if both were set up alike. Source: as
 * `compareFacts`; how a setting mirrors is the clinic's own description.
 * Units: each reason carries its own. Limits: as `compareFacts`.
 *
 * @example compareLimbs({ ...f, side: 'left' }, { ...f, side: 'right', axis: null }, 'peakTorque').reasons[0]?.factor
 * // 'axis_check_missing_on_one_side'
 */
export function compareLimbs(
  one: ComparabilityFacts,
  other: ComparabilityFacts,
  measure: ComparedMeasure,
  rules: readonly ComparabilityRule[] = DEFAULT_COMPARABILITY_RULES,
  statistics: ComparedStatistics = BEST,
): Comparability {
  if (one.side === other.side) throw new RangeError(`comparing limbs needs two sides, got ${one.side} twice`)
  const otherByKey = new Map(other.settings.map((setting) => [setting.key, setting]))
  const mirrored: ComparabilityFacts = {
    ...one,
    side: other.side,
    settings: one.settings
      .filter((setting) => setting.mirror !== 'own_value')
      .map((setting) => mirrorSetting(setting, otherByKey.get(setting.key))),
  }
  const settings = other.settings.filter((setting) => setting.mirror !== 'own_value')
  return compareFacts(mirrored, { ...other, settings }, measure, rules, statistics)
}

/**
 * Completeness of the facts: whether nothing that the rules ask for is unknown. Two tests with equal facts that are fully known and
 * pain of at most 3/10 are comparable without further judging.
 * What for: to tell what the sheet left open. Units: none. Errors: none. Source: engineering choice, no source.
 * Limits: known is not right.
 *
 * @example isFullyKnown({ ...f, hands: null }) // false
 */
export function isFullyKnown(facts: ComparabilityFacts): boolean {
  // The family matters only between two machines, and the axis and the zero have their own meaning of known
  const plain = Object.entries(facts).filter(
    ([key]) => !['settings', 'axis', 'anatomicalZero', 'deviceFamily'].includes(key),
  )
  const settled = plain.every(([, value]) => value !== null && (typeof value !== 'number' || Number.isFinite(value)))
  const stopsKnown =
    facts.stops !== null && Number.isFinite(facts.stops.firstDeg) && Number.isFinite(facts.stops.secondDeg)
  const axisKnown = axisIsKnown(facts)
  return settled && stopsKnown && axisKnown && zeroReading(facts) !== null && facts.settings.every(settingIsKnown)
}

/**
 * Factor word of a setting: the one its description states, else its key in snake_case.
 *
 * What for: one word for one thing over clinics. Units: none. Errors: none. Source: engineering choice, no source.
 * Limits: only ASCII keys.
 *
 * @example factorOfSetting({ key: 'seatDepth', factor: null }) // 'seat_depth'
 */
export function factorOfSetting(setting: Pick<SettingFact, 'key' | 'factor'>): string {
  return setting.factor ?? setting.key.replaceAll(/([a-z0-9])([A-Z])/gu, '$1_$2').toLowerCase()
}

function axisIsKnown(facts: ComparabilityFacts): boolean {
  const rule = DEFAULT_COMPARABILITY_RULES.find((candidate) => candidate.compares.kind === 'axis')
  return rule !== undefined && factDifference(rule, facts, facts, BEST).size === 0
}

function settingIsKnown(setting: SettingFact): boolean {
  return setting.value !== null && (setting.value.kind !== 'quantity' || Number.isFinite(setting.value.value))
}

function settingReasons(
  before: readonly SettingFact[],
  now: readonly SettingFact[],
  measure: ComparedMeasure,
  rules: readonly ComparabilityRule[],
): ComparabilityReason[] {
  const reasons: ComparabilityReason[] = []
  for (const [a, b] of pairSettings(before, now)) {
    const setting = a ?? b
    if (setting === undefined) continue
    const factor = factorOfSetting(setting)
    const difference = settingDifference(a, b)
    const rule = rules.find((candidate) => candidate.compares.kind === 'setting' && candidate.factor === factor)
    const candidates = [
      ...(rule === undefined ? [] : [{ rule, unit: rule.unit, source: rule.source, limits: rule.limits }]),
      // Both descriptions speak, so that the order of the tests does not matter
      ...[a, b]
        .filter((side) => side !== undefined)
        .map((side) => ({
          rule: null,
          unit: unitOf(side),
          source: CLINIC_DESCRIPTION_SOURCE,
          limits: clinicLimits(side),
        })),
    ]
    const reason = candidates
      .map(({ rule, unit, source, limits }) => {
        const found = effectOf(rule, limits, inUnit(difference, unitOf(setting), unit), measure)
        return found === null ? null : reasonOf(factor, source, unit, difference, found)
      })
      .filter((candidate) => candidate !== null)
      .sort((x, y) => gravity.indexOf(y.effect) - gravity.indexOf(x.effect))[0]
    if (reason !== undefined) reasons.push(reason)
  }
  return reasons
}

/** Settings belong together by their factor; by their key as well where a description uses one factor word for two dials. */
function pairSettings(
  before: readonly SettingFact[],
  now: readonly SettingFact[],
): readonly (readonly [SettingFact | undefined, SettingFact | undefined])[] {
  const factors = [before, now].map((settings) => settings.map(factorOfSetting))
  const repeats = (factor: string): boolean => factors.some((list) => list.indexOf(factor) !== list.lastIndexOf(factor))
  const named = (settings: readonly SettingFact[]): Map<string, SettingFact> =>
    new Map(
      settings.map((setting) => {
        const factor = factorOfSetting(setting)
        return [repeats(factor) ? `${factor} ${setting.key}` : factor, setting]
      }),
    )
  const [first, second] = [named(before), named(now)]
  return [...new Set([...first.keys(), ...second.keys()])].sort().map((name) => [first.get(name), second.get(name)])
}

/** The size of a difference in another unit; unknown where the two are not the same kind of quantity. */
function inUnit(difference: Difference, from: string | null, to: string | null): Difference {
  if (difference.size === null || difference.size === 0 || from === to) return difference
  const convertible = from !== null && to !== null && unitKind(from) !== null && unitKind(from) === unitKind(to)
  return { ...difference, size: convertible ? convert(difference.size, from, to) : null }
}

function unitOf(setting: SettingFact | undefined): string | null {
  return setting?.value?.kind === 'quantity' ? setting.value.unit : null
}

function clinicLimits(setting: SettingFact): readonly RuleLimit[] {
  return [{ moreThan: setting.tolerance ?? 0, effect: setting.effectBeyondTolerance, measures: setting.affects }]
}

interface FoundEffect {
  readonly effect: ReasonEffect
  readonly limit: RuleLimit | null
}

function effectOf(
  rule: ComparabilityRule | null,
  limits: readonly RuleLimit[],
  difference: Difference,
  measure: ComparedMeasure,
): FoundEffect | null {
  const relevant = limits.filter((limit) => limit.measures === 'all' || limit.measures.includes(measure))
  const size = difference.size
  const exceeded = size === null ? relevant : relevant.filter((limit) => size > limit.moreThan * (1 + NUMBER_NOISE))
  const worst = exceeded
    .slice()
    .sort((a, b) => gravity.indexOf(b.effect) - gravity.indexOf(a.effect) || b.moreThan - a.moreThan)[0]
  if (worst === undefined) return null
  if (size !== null) return { effect: worst.effect, limit: worst }
  if (rule?.unknown !== undefined) return { effect: rule.unknown, limit: null }
  return { effect: worst.effect === 'not_comparable' ? 'not_assessable' : worst.effect, limit: null }
}

function reasonOf(
  factor: string,
  source: string,
  unit: string | null,
  difference: Difference,
  found: FoundEffect,
): ComparabilityReason {
  const { size } = difference
  const tolerance = unit === null || found.limit === null ? null : { value: found.limit.moreThan, unit }
  return {
    factor: difference.factor ?? factor,
    effect: found.effect,
    before: difference.before,
    now: difference.now,
    difference: unit === null || size === null ? null : { value: size, unit },
    tolerance,
    source,
  }
}

function verdictOf(reasons: readonly ComparabilityReason[]): ComparabilityVerdict {
  const worst = reasons[0]?.effect ?? 'note'
  if (worst === 'note') return 'comparable'
  return worst === 'caution' ? 'comparable_with_caution' : worst
}

function mirrorSetting(setting: SettingFact, other: SettingFact | undefined): SettingFact {
  const value = setting.value
  if (value === null) return setting
  if (setting.mirror === 'negated' && value.kind === 'quantity') {
    return { ...setting, value: { ...value, value: -value.value } }
  }
  const there = other?.value
  if (setting.mirror === 'same_mark_on_other_scale' && value.kind === 'scale_mark' && there?.kind === 'scale_mark') {
    return { ...setting, value: { ...value, scale: there.scale } }
  }
  return setting
}

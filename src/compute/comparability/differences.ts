import { convert, unitKind } from '../units/index.ts'
import type { ComparabilityFacts, ComparedStatistic, SettingFact, SettingFactValue } from './facts.ts'
import type { ComparabilityRule } from './rules.ts'

export interface Quantity {
  readonly value: number
  readonly unit: string
}
/** A fact as a reason shows it; null: unknown. */
export type ReasonValue = Quantity | string | null

export interface Difference {
  /** How far apart, in the rule's unit (words: 0, 1 or 2); null: cannot be known. */
  readonly size: number | null
  readonly before: ReasonValue
  readonly now: ReasonValue
  /** Set where the reason has a more telling word than the rule's. */
  readonly factor?: string
}

export interface ComparedStatistics {
  readonly before: ComparedStatistic
  readonly now: ComparedStatistic
}

/** Two measured offsets say how far apart they lie only if their difference is known to better than this, mm. */
const USABLE_OFFSET_HALF_WIDTH_MM = 10
/** Rests of a minute or more are not told apart. */
const SHORT_REST_S = 60

/** How far two tests are apart under one rule. Settings are judged by `settingDifference` instead. */
export function factDifference(
  rule: ComparabilityRule,
  a: ComparabilityFacts,
  b: ComparabilityFacts,
  statistics: ComparedStatistics,
): Difference {
  const compares = rule.compares
  switch (compares.kind) {
    case 'word':
      return words(a[compares.fact], b[compares.fact])
    case 'number':
      return numbers(a[compares.fact], b[compares.fact], rule.unit)
    case 'percent': {
      const [before, now] = [finite(a[compares.fact]), finite(b[compares.fact])]
      const size = before === null || now === null ? null : percentApart(before, now)
      return { size, before: quantity(before, 'kg'), now: quantity(now, 'kg') }
    }
    case 'clock':
      return clocks(finite(a.startMinuteOfDay), finite(b.startMinuteOfDay))
    case 'dynamometer':
      return dynamometers(a, b)
    case 'thigh_strap':
      return thighStraps(a.thighStrap, b.thighStrap)
    case 'stops':
      return stops(a, b)
    case 'anatomical_zero':
      return zeros(a, b, rule.unit)
    case 'axis':
      return axes(a, b)
    case 'familiarisation':
      return familiarisations(a.familiarisation, b.familiarisation)
    case 'short_rest':
      return shortRests(finite(a.restBeforeS), finite(b.restBeforeS))
    case 'pain_above':
      return pains(finite(a.painDuring), finite(b.painDuring))
    case 'statistic':
      return words(statistics.before, statistics.now)
    case 'setting':
      throw new RangeError('a setting rule is judged setting by setting')
  }
}

/** How far one setting of the clinic's description is apart in two tests; `undefined` stands for a setting only the other test has. */
export function settingDifference(a: SettingFact | undefined, b: SettingFact | undefined): Difference {
  const [before, now] = [a?.value ?? null, b?.value ?? null]
  const shown = { before: showSetting(before), now: showSetting(now) }
  if (before === null || now === null) return { size: null, ...shown }
  if (before.kind === 'quantity' && now.kind === 'quantity') {
    const kind = unitKind(before.unit)
    const sameKind = before.unit === now.unit || (kind !== null && kind === unitKind(now.unit))
    if (!sameKind || !Number.isFinite(before.value) || !Number.isFinite(now.value)) return { size: null, ...shown }
    const nowInSameUnit = before.unit === now.unit ? now.value : convert(now.value, now.unit, before.unit)
    return { size: Math.abs(nowInSameUnit - before.value), ...shown }
  }
  if (before.kind === 'scale_mark' && now.kind === 'scale_mark') {
    // One mark number on two scales says nothing about where the part stood
    if (before.scale !== now.scale) return { size: null, ...shown }
    if (before.position === null || now.position === null) return { size: before.mark === now.mark ? 0 : 1, ...shown }
    return { size: Math.abs(now.position - before.position), ...shown }
  }
  if (before.kind === 'choice' && now.kind === 'choice') return { size: before.choice === now.choice ? 0 : 1, ...shown }
  if (before.kind === 'boolean' && now.kind === 'boolean') return { size: before.on === now.on ? 0 : 1, ...shown }
  return { size: null, ...shown }
}

/** The anatomical zero is void once something was adjusted after it was taken. */
export function zeroReading(facts: ComparabilityFacts): number | null {
  return facts.anatomicalZero?.afterLastAdjustment === 'yes' ? finite(facts.anatomicalZero.readingDeg) : null
}

function finite(value: number | null | undefined): number | null {
  return value !== null && value !== undefined && Number.isFinite(value) ? value : null
}

function quantity(value: number | null, unit: string | null): ReasonValue {
  if (value === null) return null
  return unit === null ? String(value) : { value, unit }
}

function words(before: string | null, now: string | null): Difference {
  return { size: before === null || now === null ? null : before === now ? 0 : 1, before, now }
}

function numbers(first: number | null, second: number | null, unit: string | null): Difference {
  const [before, now] = [finite(first), finite(second)]
  const size = before === null || now === null ? null : Math.abs(now - before)
  return { size, before: quantity(before, unit), now: quantity(now, unit) }
}

/** Relative to the larger of the two, so that the order of the tests does not matter. */
function percentApart(before: number, now: number): number | null {
  const larger = Math.max(before, now)
  return larger > 0 && Math.min(before, now) > 0 ? (100 * Math.abs(now - before)) / larger : null
}

function clocks(before: number | null, now: number | null): Difference {
  const day = 24 * 60
  const apart = before === null || now === null ? null : Math.abs(before - now) % day
  return {
    size: apart === null ? null : Math.min(apart, day - apart) / 60,
    before: showClock(before),
    now: showClock(now),
  }
}

function showClock(minute: number | null): string | null {
  if (minute === null) return null
  const two = (n: number): string => String(Math.floor(n)).padStart(2, '0')
  return `${two(minute / 60)}:${two(minute % 60)}`
}

function dynamometers(a: ComparabilityFacts, b: ComparabilityFacts): Difference {
  const shown = { before: a.dynamometerId, now: b.dynamometerId }
  if (a.dynamometerId === null || b.dynamometerId === null) return { size: null, ...shown }
  if (a.dynamometerId === b.dynamometerId) return { size: 0, ...shown }
  if (a.deviceFamily === null || b.deviceFamily === null) return { size: null, ...shown }
  return { size: a.deviceFamily === b.deviceFamily ? 1 : 2, ...shown }
}

function thighStraps(before: string | null, now: string | null): Difference {
  const shown = { before, now }
  if (before === null || now === null) return { size: null, ...shown }
  if (before === now) return { size: 0, ...shown }
  return { size: before === 'none' || now === 'none' ? 2 : 1, ...shown }
}

function stops(a: ComparabilityFacts, b: ComparabilityFacts): Difference {
  const [aFirst, aSecond] = [finite(a.stops?.firstDeg), finite(a.stops?.secondDeg)]
  const [bFirst, bSecond] = [finite(b.stops?.firstDeg), finite(b.stops?.secondDeg)]
  const show = (first: number | null, second: number | null): string | null =>
    first === null || second === null ? null : `${rounded(first)} to ${rounded(second)} deg`
  const shown = { before: show(aFirst, aSecond), now: show(bFirst, bSecond) }
  if (aFirst === null || aSecond === null || bFirst === null || bSecond === null) return { size: null, ...shown }
  // Start angle, end angle and the range between them may each differ
  const range = Math.abs(Math.abs(aSecond - aFirst) - Math.abs(bSecond - bFirst))
  return { size: Math.max(range, Math.abs(aFirst - bFirst), Math.abs(aSecond - bSecond)), ...shown }
}

function axes(a: ComparabilityFacts, b: ComparabilityFacts): Difference {
  if (a.axis === null || b.axis === null) {
    const factor = a.axis === b.axis ? 'axis_check_missing' : 'axis_check_missing_on_one_side'
    return { size: null, before: showAxis(a), now: showAxis(b), factor }
  }
  const shown = { before: showAxis(a), now: showAxis(b) }
  if (![a, b].every(offsetCanBeMeasured)) {
    const seen = [a.axis.padTravel, b.axis.padTravel]
    return { size: seen.every((travel) => travel === 'none' || travel === 'slight') ? 0 : null, ...shown }
  }
  const [first, second] = [a.axis.offset, b.axis.offset]
  if (first !== null && second !== null) {
    const apart = Math.hypot(first.forwardMm - second.forwardMm, first.upMm - second.upMm)
    const halfWidth = Math.hypot(first.halfWidthMm, second.halfWidthMm)
    if (Number.isFinite(apart) && halfWidth <= USABLE_OFFSET_HALF_WIDTH_MM) return { size: apart, ...shown }
  }
  // What the eye saw bounds no offset: 20 mm forward and 20 mm down move the pad by 8 mm over the whole range
  return { size: null, ...shown }
}

/** The linkage is that of a seated knee; elsewhere there is nothing but the eye to go by. */
function offsetCanBeMeasured({ joint, bodyPosition }: ComparabilityFacts): boolean {
  return joint === 'knee' && (bodyPosition === 'seated' || bodyPosition === null)
}

function showAxis(facts: ComparabilityFacts): string | null {
  const axis = facts.axis
  if (axis === null) return null
  const { offset, padTravel } = axis
  if (offset !== null && [offset.forwardMm, offset.upMm, offset.halfWidthMm].every(Number.isFinite)) {
    const tenth = (mm: number): string => rounded(mm).toFixed(1)
    return `forward ${tenth(offset.forwardMm)} mm, up ${tenth(offset.upMm)} mm, each known to ${tenth(offset.halfWidthMm)} mm`
  }
  return padTravel === null ? null : `pad travel ${padTravel}`
}

/** To a tenth, for words; never -0. */
function rounded(value: number): number {
  return Math.round(value * 10) / 10 + 0
}

function familiarisations(
  before: ComparabilityFacts['familiarisation'],
  now: ComparabilityFacts['familiarisation'],
): Difference {
  if (before === null || now === null) return { size: null, before, now }
  if (before === now) return { size: 0, before, now }
  return { size: before === 'none' || now === 'none' ? 2 : 1, before, now }
}

/** A void zero is unknown, and says why. */
function zeros(a: ComparabilityFacts, b: ComparabilityFacts, unit: string | null): Difference {
  const difference = numbers(zeroReading(a), zeroReading(b), unit)
  const isVoid = (facts: ComparabilityFacts): boolean => facts.anatomicalZero?.afterLastAdjustment === 'no'
  const why = 'void: something was moved afterwards'
  return {
    ...difference,
    before: isVoid(a) ? why : difference.before,
    now: isVoid(b) ? why : difference.now,
  }
}

function shortRests(before: number | null, now: number | null): Difference {
  const shown = { before: quantity(before, 's'), now: quantity(now, 's') }
  if (before === null || now === null) return { size: null, ...shown }
  return { size: before === now ? 0 : Math.max(0, SHORT_REST_S - Math.min(before, now)), ...shown }
}

function pains(before: number | null, now: number | null): Difference {
  const shown = { before: quantity(before, '{score}'), now: quantity(now, '{score}') }
  const known = [before, now].filter((score) => score !== null)
  const highest = known.length === 0 ? null : Math.max(...known)
  if (known.length === 2 || (highest !== null && highest > 3)) return { size: highest, ...shown }
  return { size: null, ...shown }
}

function showSetting(value: SettingFactValue | null): ReasonValue {
  if (value === null) return null
  switch (value.kind) {
    case 'quantity':
      return Number.isFinite(value.value) ? { value: value.value, unit: value.unit } : null
    case 'scale_mark':
      return `${value.scale}: ${value.mark}`
    case 'choice':
      return value.choice
    case 'boolean':
      return value.on ? 'yes' : 'no'
  }
}

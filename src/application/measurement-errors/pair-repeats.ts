/**
 * Repeat tests to pairs: the second test after setting up anew beside the first, one pair a person, of limbs of one kind. What
 * does not make a pair is named with its reason, since a study that leaves out what it dislikes measures nothing.
 */
import { calendarDayNumber, type ComparabilityRule, type ComparedMeasure } from '../../compute/index.ts'
import type { JudgedResultRow } from '../../store/result-store.ts'
import { compareMeasure } from '../judgement/compare-results.ts'
import { common, testOf } from '../judgement/error-model.ts'

/** A test with what is known of its limb and of its standing on that day. */
export interface RepeatableTest {
  readonly row: JudgedResultRow
  readonly value: { readonly value: number } | { readonly value: null; readonly reason: string }
  readonly limbCondition: string
}

export interface RepeatedPair {
  readonly first: RepeatableTest
  readonly second: RepeatableTest
  readonly firstValue: number
  readonly secondValue: number
  /** The same one at both tests; null: different ones, or not recorded. */
  readonly operatorId: string | null
  readonly dynamometerId: string | null
}

export interface LeftOut {
  readonly resultId: string
  readonly sessionId: string
  readonly reason: string
}

export interface PairingRules {
  readonly measure: string
  readonly limbCondition: string
  readonly withinDays: number
  readonly rules: readonly ComparabilityRule[]
}

interface NoPair {
  readonly reason: string
}

/** `tests`: of one subject and series, oldest first. `repeats`: repeat session to the one it names, null where it names none. */
export function pairRepeats(
  tests: readonly RepeatableTest[],
  repeats: ReadonlyMap<string, string | null>,
  pairing: PairingRules,
): { readonly pairs: readonly RepeatedPair[]; readonly leftOut: readonly LeftOut[] } {
  const pairs: RepeatedPair[] = []
  const leftOut: LeftOut[] = []
  const leave = ({ row }: RepeatableTest, reason: string): void => {
    leftOut.push({ resultId: row.id, sessionId: row.sessionId, reason })
  }
  for (const second of tests.filter(({ row }) => repeats.has(row.sessionId))) {
    const first = firstOf(tests, second, repeats.get(second.row.sessionId) ?? null)
    const pair = first === null ? { reason: 'first_test_missing' } : asPair(first, second, pairing)
    if ('reason' in pair) leave(second, pair.reason)
    else pairs.push(pair)
  }
  // Two limbs, or two repeats, of one person are not two people: the newest pair stands for the person
  const chosen = pairs.at(-1)
  pairs.slice(0, -1).forEach(({ second }) => leave(second, 'another_pair_of_this_person'))
  return { pairs: chosen === undefined ? [] : [chosen], leftOut }
}

function firstOf(tests: readonly RepeatableTest[], second: RepeatableTest, named: string | null) {
  const earlier = tests.filter(
    ({ row }) =>
      row.side === second.row.side && row.sessionId !== second.row.sessionId && row.testedAt <= second.row.testedAt,
  )
  return (named === null ? earlier : earlier.filter(({ row }) => row.sessionId === named)).at(-1) ?? null
}

/** By the calendar, whatever the hour: tests of one day are no day apart. */
const dayOf = ({ row }: RepeatableTest): number => calendarDayNumber(row.startedAt)

function asPair(first: RepeatableTest, second: RepeatableTest, pairing: PairingRules): RepeatedPair | NoPair {
  if ([first, second].some(({ limbCondition }) => limbCondition !== pairing.limbCondition))
    return { reason: 'other_limb_condition' }
  if (dayOf(second) - dayOf(first) > pairing.withinDays) return { reason: 'too_many_days_apart' }
  if (first.value.value === null) return { reason: 'first_test_has_no_value' }
  if (second.value.value === null) return { reason: second.value.reason }
  const { verdict } = compareMeasure(first.row, second.row, pairing.measure as ComparedMeasure, pairing.rules)
  if (verdict === 'not_comparable') return { reason: 'setups_not_comparable' }
  if (verdict === 'not_assessable') return { reason: 'setups_not_assessable' }
  const tests = [first.row, second.row].map(testOf)
  return {
    first,
    second,
    firstValue: first.value.value,
    secondValue: second.value.value,
    operatorId: common(tests.map(({ operatorId }) => operatorId)),
    dynamometerId: common(tests.map(({ dynamometerId }) => dynamometerId)),
  }
}

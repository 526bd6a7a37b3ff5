import type { Measured, Side } from '../types.ts'

export interface LimbResult {
  readonly sessionId: string
  readonly side: Side
  readonly resultId: string
  readonly measured: Measured
}

export interface LimbPair {
  readonly sessionId: string
  readonly left: Measured
  readonly right: Measured
  readonly leftResultId: string | null
  readonly rightResultId: string | null
}

/**
 * Both limbs of the same session, for symmetry over time.
 *
 * Sides of different visits are never paired: a missing limb is null with `other_limb_not_tested_in_session`, and two results of one side in a session (for one
 * test identity) are null with `more_than_one_result_for_side` rather than a choice. Order: sessions as first met. Errors: none.
 * What for: limbs of two visits differ by the visits too. Source: engineering choice, no source. Limits: trusts that
 * both results are of one test identity.
 * Units: those of the results.
 *
 * @example pairLimbsBySession([{ sessionId: 's1', side: 'left', resultId: 'a', measured: { value: 200 } }])[0]?.right
 * // { value: null, reason: 'other_limb_not_tested_in_session' }
 */
export function pairLimbsBySession(results: readonly LimbResult[]): LimbPair[] {
  const bySession = new Map<string, { left: LimbResult[]; right: LimbResult[] }>()
  for (const result of results) {
    const sides = bySession.get(result.sessionId) ?? { left: [], right: [] }
    sides[result.side].push(result)
    bySession.set(result.sessionId, sides)
  }
  const only = (list: readonly LimbResult[]): { measured: Measured; id: string | null } => {
    const [first, second] = list
    if (first === undefined) return { measured: { value: null, reason: 'other_limb_not_tested_in_session' }, id: null }
    if (second !== undefined) return { measured: { value: null, reason: 'more_than_one_result_for_side' }, id: null }
    return { measured: first.measured, id: first.resultId }
  }
  return [...bySession].map(([sessionId, sides]) => {
    const left = only(sides.left)
    const right = only(sides.right)
    return { sessionId, left: left.measured, right: right.measured, leftResultId: left.id, rightResultId: right.id }
  })
}

import type { ComparabilityReason } from '../../compute/index.ts'

/** A reason with its tolerance where it has one; words are left as they are, quantities keep their unit. */
export function representReasons(reasons: readonly ComparabilityReason[]) {
  return reasons.map(({ tolerance, ...reason }) => (tolerance === null ? reason : { ...reason, tolerance }))
}

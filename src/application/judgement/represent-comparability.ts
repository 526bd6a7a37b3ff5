import type { ComparabilityReason } from '../../compute/index.ts'

/** A reason with its difference and tolerance where it has them; words are left as they are, quantities keep their unit. */
export function representReasons(reasons: readonly ComparabilityReason[]) {
  return reasons.map(({ difference, tolerance, ...reason }) => ({
    ...reason,
    ...(difference === null ? {} : { difference }),
    ...(tolerance === null ? {} : { tolerance }),
  }))
}

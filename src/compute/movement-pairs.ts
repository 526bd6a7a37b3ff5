import type { Movement } from './types.ts'

/** [first, second]: torque and velocity are positive in the first movement, the angle is positive towards the second. */
export type MovementPair = readonly [first: Movement, second: Movement]

export const MOVEMENT_PAIRS: readonly MovementPair[] = [
  ['extension', 'flexion'],
  ['adduction', 'abduction'],
  ['internal_rotation', 'external_rotation'],
  ['plantar_flexion', 'dorsiflexion'],
  ['inversion', 'eversion'],
  ['pronation', 'supination'],
]

/**
 * The pair a movement belongs to.
 *
 * What for: the two directions of one joint motion share a recording and its signs. Units: none. Errors: RangeError
 * for an unknown movement. Source: convention of this core. Limits: which of a pair comes first is a convention, not
 * anatomy.
 *
 * @example movementPair('flexion') // ['extension', 'flexion']
 */
export function movementPair(movement: Movement): MovementPair {
  const pair = MOVEMENT_PAIRS.find(([first, second]) => movement === first || movement === second)
  if (pair === undefined) throw new RangeError(`unknown movement: ${movement}`)
  return pair
}

/**
 * +1 for the first movement of a pair, -1 for the second: the sign of its torque inside this core.
 *
 * What for: testing a muscle in its own sign. Units: none. Errors: RangeError for an unknown movement. Source:
 * convention of this core. When not to use it: as the direction of travel; an eccentric test moves the other way.
 *
 * @example movementSign('flexion') // -1
 */
export function movementSign(movement: Movement): 1 | -1 {
  return movementPair(movement)[0] === movement ? 1 : -1
}

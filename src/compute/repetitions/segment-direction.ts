import { movementSign } from '../movement-pairs.ts'
import type { AnalysisParameters, DirectionProtocol, ReasonCode } from '../types.ts'
import type { Interval } from '../signal/time-base.ts'
import type { LimbMovement } from './find-movements.ts'
import { findLoadRange, movingPart } from './load-range.ts'
import type { Phases } from './load-range.ts'

/** One attempted repetition of a direction: numbered, whether or not it has a load range. */
export interface Attempt {
  readonly movement: LimbMovement
  readonly onset: number
  readonly end: number
  readonly phases: Phases | null
  readonly reason: ReasonCode | null
}

/**
 * The limb's direction of travel in a tested direction: with the muscle in a concentric test, against it in an eccentric.
 *
 * @example motionSign({ movement: 'extension', contractionMode: 'isokinetic_eccentric', velocityDegS: 60 }) // -1
 */
export function motionSign(direction: DirectionProtocol): 1 | -1 {
  const tested = movementSign(direction.movement)
  return direction.contractionMode === 'isokinetic_eccentric' ? (-tested as 1 | -1) : tested
}

/**
 * The attempts of one isokinetic direction, in order, with their phases: rise, load range, deceleration.
 *
 * Movements that never come near the set velocity are positioning; they are counted but not numbered, so that the
 * numbers match what the clinician saw. An attempt over missing samples has the reason `samples_missing`.
 */
export function segmentDirection(
  kinematics: { readonly angleDeg: Float64Array; readonly velocityDegS: Float64Array },
  movements: readonly LimbMovement[],
  direction: DirectionProtocol,
  sampleRateHz: number,
  missing: readonly Interval[],
  allowedDeg: readonly [number, number] | null,
  parameters: AnalysisParameters,
): { readonly attempts: readonly Attempt[]; readonly positioning: number } {
  const { angleDeg, velocityDegS } = kinematics
  const set = direction.velocityDegS
  const attempts: Attempt[] = []
  let positioning = 0
  for (const movement of movements) {
    if (movement.sign !== motionSign(direction)) continue
    const moving = movingPart(velocityDegS, movement, set, parameters.movement.minimumPercentOfSetVelocity)
    if (moving === null) {
      positioning += 1
      continue
    }
    const found = findLoadRange(
      velocityDegS,
      angleDeg,
      movement,
      moving,
      set,
      sampleRateHz,
      parameters.loadRange,
      allowedDeg,
    )
    const refused = 'refused' in found ? found.refused : null
    const hole = missing.some((gap) => {
      return gap.startS * sampleRateHz < moving.end && gap.endS * sampleRateHz > moving.onset
    })
    attempts.push({
      movement,
      ...moving,
      phases: 'refused' in found || hole ? null : found,
      reason: hole ? 'samples_missing' : refused,
    })
  }
  return { attempts, positioning }
}

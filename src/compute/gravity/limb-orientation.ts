import type { LimbOrientation, Movement } from '../types.ts'
import { movementPair } from '../movement-pairs.ts'

export type BodyPosition = 'seated' | 'supine' | 'prone' | 'side_lying' | 'standing'

const level = (perJointDegree: 1 | -1): LimbOrientation => ({ belowHorizontalAtZeroDeg: 0, perJointDegree })
const hanging = (perJointDegree: 1 | -1): LimbOrientation => ({ belowHorizontalAtZeroDeg: 90, perJointDegree })

/** By joint, pair's first movement and position. Geometry of the positions as commonly described, no source. */
const ORIENTATIONS: Readonly<Record<string, LimbOrientation>> = {
  // The shank is level at full extension and sinks as the knee bends, unless the body lies face down.
  'knee extension seated': level(1),
  'knee extension supine': level(1),
  'knee extension prone': level(-1),
  // Flexing the hip of someone on the back lifts the leg; face down it sinks over the table's end; standing it hangs at 0.
  'hip extension supine': level(-1),
  'hip extension prone': level(1),
  'hip extension standing': hanging(-1),
  'hip adduction side_lying': level(-1),
  'hip adduction standing': hanging(-1),
  // Elbow: upper arm on the table, forearm up to bend; or upper arm vertical, forearm hanging at full extension.
  'elbow extension supine': level(-1),
  'elbow extension seated': hanging(-1),
  // The trunk stands above its axis and sinks as it bends.
  'trunk extension standing': { belowHorizontalAtZeroDeg: -90, perJointDegree: 1 },
  'shoulder extension supine': level(-1),
  'shoulder extension seated': hanging(-1),
  'shoulder extension standing': hanging(-1),
  'shoulder adduction seated': hanging(-1),
  'shoulder adduction standing': hanging(-1),
}

/**
 * Where the moving limb stands to the horizontal for a joint, movement and body position, or null where the position
 * does not settle it (ankle, wrist, rotations): then the clinic describes it, and the knee's rule is not reused blindly.
 *
 * Conventions: joint angle 0 = anatomical zero, positive towards the pair's second movement. `segmentRaisedDeg` is how
 * far the proximal segment's distal end is raised from its usual line (a seated thigh raised 5 deg: 5).
 * What for: the angle that a gravity model needs. Units: deg. Errors: RangeError for a raise that is not finite or an
 * unknown movement. Source: geometry of the positions as commonly described, no source. Limits: a limb that moves in
 * a vertical plane.
 *
 * @example limbOrientation('knee', 'flexion', 'seated', 5) // { belowHorizontalAtZeroDeg: -5, perJointDegree: 1 }
 */
export function limbOrientation(
  joint: string,
  movement: Movement,
  position: BodyPosition,
  segmentRaisedDeg = 0,
): LimbOrientation | null {
  if (!Number.isFinite(segmentRaisedDeg)) throw new RangeError('segmentRaisedDeg must be finite')
  const found = ORIENTATIONS[`${joint} ${movementPair(movement)[0]} ${position}`]
  if (found === undefined) return null
  return { ...found, belowHorizontalAtZeroDeg: found.belowHorizontalAtZeroDeg - segmentRaisedDeg }
}

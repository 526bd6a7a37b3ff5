import { movementPair } from './movement-pairs.ts'
import type { Protocol } from './types.ts'

/**
 * A protocol no analysis can be made with is the caller's mistake: RangeError, in one sentence.
 */
export function checkProtocol({ directions, bodyMassKg, gravity, parameters }: Protocol): void {
  const require = (holds: boolean, sentence: string) => {
    if (!holds) throw new RangeError(sentence)
  }
  const positive = (value: number) => value > 0 && value < Infinity
  const [one, other] = directions
  require(one !== undefined && directions.length <= 2, 'a set has one or two directions')
  for (const { movement, contractionMode, velocityDegS } of directions) {
    require(movementPair(movement) === movementPair(directions[0]!.movement), 'both directions must be of one pair')
    if (contractionMode === 'isometric') require(velocityDegS === 0, 'an isometric direction has velocity 0')
    else require(positive(velocityDegS), 'an isokinetic direction needs a positive set velocity')
  }
  if (one !== undefined && other !== undefined) {
    const isometric = [one, other].map(({ contractionMode }) => contractionMode === 'isometric')
    require(isometric[0] === isometric[1], 'isometric and isokinetic directions do not share a recording')
    require(one.movement !== other.movement ||
      one.contractionMode !== other.contractionMode, 'the two directions must differ')
  }
  require(bodyMassKg === null || (bodyMassKg >= 1 && bodyMassKg < 1000), 'body mass must lie between 1 and 1000 kg')
  if (gravity !== null) {
    const { kind } = gravity
    const numbers =
      kind === 'passive_sweep'
        ? [...gravity.angleDeg, ...gravity.passiveTorqueNm]
        : kind === 'horizontal_plane'
          ? []
          : [
              gravity.orientation.belowHorizontalAtZeroDeg,
              ...(kind === 'cosine' ? [gravity.momentNm] : [gravity.cosineNm, gravity.sineNm]),
            ]
    const absurd = 10_000
    require(numbers.every((number) => Math.abs(number) < absurd), 'the gravity model holds a number that no limb has')
    if (kind === 'passive_sweep') {
      require(gravity.angleDeg.length >= 2, 'a passive sweep needs at least two angles')
      require(gravity.angleDeg.length === gravity.passiveTorqueNm.length, 'a passive sweep needs a torque per angle')
      require(gravity.angleDeg.every(
        (angle, i) => i === 0 || angle > gravity.angleDeg[i - 1]!,
      ), 'the angles of a passive sweep must ascend')
    }
  }
  const { loadRange, filter, recording, movement } = parameters
  require(loadRange.bandPercent > 0 && loadRange.bandPercent < 100, 'the velocity band must lie between 0 and 100 %')
  require(movement.minimumPercentOfSetVelocity >= 5 &&
    movement.minimumPercentOfSetVelocity < 100, 'minimumPercentOfSetVelocity must lie between 5 and 100')
  require(positive(movement.minimumRangeDeg), 'minimumRangeDeg must be positive')
  require(recording.minimumSampleRateHz > 0, 'the sample rate limits must be positive')
  if (filter.kind === 'butterworth_zero_phase') {
    require(filter.orderPerPass >= 2 && filter.orderPerPass % 2 === 0, 'the filter order must be even')
    const cutoffs = [
      ...filter.cutoffs.map(({ cutoffHz }) => cutoffHz),
      filter.isometricCutoffHz,
      filter.kinematicCutoffMultiple,
      filter.rateOfTorqueDevelopmentCutoffHz,
    ]
    require(filter.cutoffs.length > 0 && cutoffs.every(positive), 'filter cutoffs must be positive')
  }
}

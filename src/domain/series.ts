/** A series: what is measured again and again. Without side (both limbs share it) and without measure (a row holds all). */
import type { ContractionMode, ContractionScheme, Joint, Movement } from '../compute/index.ts'

export interface Series {
  readonly joint: Joint
  readonly movement: Movement
  readonly contractionMode: ContractionMode
  readonly contractionScheme: ContractionScheme
  /** 0 for isometric. */
  readonly velocityDegS: number
}

/** The key under which results are stored: "knee/extension/isokinetic_concentric/reciprocal/60". */
export function seriesKey(series: Series): string {
  // 1.0471976 rad/s and 60 deg/s are the same test.
  const velocity = Math.round(series.velocityDegS * 1000) / 1000
  return [series.joint, series.movement, series.contractionMode, series.contractionScheme, velocity].join('/')
}

export function parseSeriesKey(key: string): Series {
  const [joint, movement, contractionMode, contractionScheme, velocity] = key.split('/')
  return {
    joint: joint as Joint,
    movement: movement as Movement,
    contractionMode: contractionMode as ContractionMode,
    contractionScheme: contractionScheme as ContractionScheme,
    velocityDegS: Number(velocity),
  }
}

interface NamedSeries extends Omit<Series, 'velocityDegS'> {
  readonly velocity: { readonly canonicalValue: number }
}

/** What a document or query names. */
export function seriesOf({ joint, movement, contractionMode, contractionScheme, velocity }: NamedSeries): Series {
  return { joint, movement, contractionMode, contractionScheme, velocityDegS: velocity.canonicalValue }
}

/** As answers name it. */
export function representSeries({ joint, movement, contractionMode, contractionScheme, velocityDegS }: Series) {
  return { joint, movement, contractionMode, contractionScheme, velocity: { value: velocityDegS, unit: 'deg/s' } }
}

import type { Movement } from '../types.ts'
import type { HazardFinding } from './finding.ts'

/** A value of each limb, today and by the subject's own history. */
export interface BothLimbs {
  readonly leftNow: number
  readonly rightNow: number
  readonly leftHistory: number
  readonly rightHistory: number
}

export interface SideSwapInput {
  /** The same test of both limbs, per movement; both muscles of the pair are needed. */
  readonly torques: readonly (BothLimbs & { readonly movement: Movement; readonly target: string })[]
  /** What tells the limbs apart beside strength: limb weight (N.m), pad distance (mm), a setting that differs between the sides. */
  readonly signs: readonly (BothLimbs & {
    readonly name: string
    /** Smaller differences between the sides' histories tell nothing. */
    readonly tolerance: number
  })[]
}

/** Histories of the two limbs must differ by this share of the larger, or a flip means nothing. */
const CLEAR_ASYMMETRY = 0.1
/** Where both limbs lost or both gained, exchanging them fits exactly as well: rounding must not decide. */
const FITS_BETTER = 1e-9

/**
 * Side-swap screen: whether a document's left and right were exchanged.
 *
 * What for: a swapped session turns recovery into its mirror image. Rule: in both muscles of the pair, the stronger side of the
 * history (by at least 10 %) is the weaker side today, and exchanging the sides brings today's values nearer to the history (sum of
 * |ln(now / history)|); AND at least one independent sign (limb weight, pad distance, a setting) that differs between the sides fits
 * the exchanged sides better, and none fits the sides as sent better.
 *
 * Both halves are needed: strength alone flips when a strong limb is injured. The finding holds the values and asks.
 * Units: any, the same within a row. Values that are not positive and finite make their row say nothing. Errors: none.
 * Source: common practice, no source. Limits: needs a history of both limbs, two movements, and a sign that tells the limbs apart.
 *
 * @example screenSideSwap({ torques: [extension, flexion], signs: [limbWeight] })?.code // 'possible_side_swap'
 */
export function screenSideSwap({ torques, signs }: SideSwapInput): HazardFinding | null {
  const usable = torques.filter(isUsable)
  const movements = new Set(usable.map(({ movement }) => movement))
  if (movements.size < 2 || usable.length < torques.length || !usable.every(flips)) return null
  const telling = signs.filter(
    (sign) => isUsable(sign) && Math.abs(sign.leftHistory - sign.rightHistory) > Math.max(sign.tolerance, 0),
  )
  const balance = telling.map((sign) => ({ name: sign.name, gain: gainOfExchange(sign) }))
  const forSwap = balance.filter(({ gain }) => gain > FITS_BETTER)
  if (forSwap.length === 0 || balance.some(({ gain }) => gain < -FITS_BETTER)) return null
  const names = forSwap.map(({ name }) => name).join(', ')
  return {
    code: 'possible_side_swap',
    level: 'hold',
    targets: usable.map(({ target }) => target),
    message: `In ${[...movements].join(' and ')} the stronger side is the other one than before, and ${names} agrees with that too: were left and right exchanged?`,
    evidence: { agreeing: names, movements: [...movements].join(', ') },
  }
}

function isUsable(row: BothLimbs): boolean {
  return [row.leftNow, row.rightNow, row.leftHistory, row.rightHistory].every((v) => Number.isFinite(v) && v > 0)
}

/** An exchange can only fit better where the stronger side is the other one than before. */
function flips(row: BothLimbs): boolean {
  const apart = Math.abs(row.leftHistory - row.rightHistory)
  const clear = apart >= CLEAR_ASYMMETRY * Math.max(row.leftHistory, row.rightHistory)
  return clear && gainOfExchange(row) > FITS_BETTER
}

/** By how much nearer to their histories today's values come when the sides are exchanged, in natural logarithms. */
function gainOfExchange(row: BothLimbs): number {
  const apart = (now: number, history: number): number => Math.abs(Math.log(now / history))
  const asSent = apart(row.leftNow, row.leftHistory) + apart(row.rightNow, row.rightHistory)
  const exchanged = apart(row.leftNow, row.rightHistory) + apart(row.rightNow, row.leftHistory)
  return asSent - exchanged
}

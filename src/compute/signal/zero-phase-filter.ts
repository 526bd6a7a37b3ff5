import { butterworthLowpass, dualPassDesignCutoffHz } from './butterworth.ts'
import type { SecondOrderSection } from './butterworth.ts'
import type { ReasonCode } from '../types.ts'

/** Above this part of the sample rate a design is refused: the bilinear transform has bent the response out of shape. */
export const HIGHEST_DESIGN_CUTOFF = 0.45

export interface LowpassDesign {
  readonly sections: readonly SecondOrderSection[]
  readonly orderPerPass: number
  readonly cutoffHz: number
  readonly designCutoffHz: number
}

/**
 * Design of a zero-phase (forward and backward) Butterworth low-pass whose two passes together have the cutoff.
 *
 * Returns the design, or the reason `cutoff_too_near_nyquist` where the corrected cutoff reaches 0.45 of the sample
 * rate (an engineering rule, no source). Errors: RangeError for a caller's mistake in order or cutoff sign.
 * What for: the one design all channels use. Units: Hz. Limits: even orders; a filter of order 2 per pass is what the
 * field calls a fourth-order zero-lag filter.
 *
 * @example designZeroPhaseLowpass(10, 100, 2) // { designCutoffHz: 12.249..., ... }
 */
export function designZeroPhaseLowpass(
  cutoffHz: number,
  sampleRateHz: number,
  orderPerPass: number,
): LowpassDesign | { readonly refused: ReasonCode } {
  if (cutoffHz >= sampleRateHz / 2) return { refused: 'cutoff_too_near_nyquist' }
  const designCutoffHz = dualPassDesignCutoffHz(cutoffHz, sampleRateHz, orderPerPass)
  if (designCutoffHz >= HIGHEST_DESIGN_CUTOFF * sampleRateHz) return { refused: 'cutoff_too_near_nyquist' }
  return {
    sections: butterworthLowpass(orderPerPass, designCutoffHz, sampleRateHz),
    orderPerPass,
    cutoffHz,
    designCutoffHz,
  }
}

/**
 * Samples mirrored at each end: 3 (order + 1), as scipy.signal.filtfilt takes by default.
 *
 * What for: how long a signal must be to be filtered. Units: samples. Errors: none. Source: scipy.signal.filtfilt.
 * Limits: nothing to do with how long an edge disturbs.
 *
 * @example edgePadding(2) // 9
 */
export function edgePadding(orderPerPass: number): number {
  return 3 * (orderPerPass + 1)
}

/**
 * Zero-phase filtering: the sections run forward, then backward, over the signal lengthened at both ends by its odd
 * mirror image (point reflection through the end sample), each pass starting in its steady state.
 *
 * What for: smoothing without shifting a peak in time or angle. Conventions: identical to scipy.signal.filtfilt with
 * its default padding. Units: those of the signal. The two passes square the amplitude response.
 * Limits: the first and last padding lengths depend on the mirror image; a jump rings.
 * Errors: RangeError when the signal is not longer than the padding. Source: Winter 2009, ch. 3; Gustafsson 1996
 * (IEEE Trans Signal Process 44:988-92) discusses the ends. Second route: scipy golden file.
 *
 * @example zeroPhaseFilter(step10to20, design(10 Hz of 100 Hz, order 2))[10] // 6.296698
 */
export function zeroPhaseFilter(signal: Float64Array, design: LowpassDesign): Float64Array {
  const padding = edgePadding(design.orderPerPass)
  const length = signal.length
  if (length <= padding) throw new RangeError(`the signal must be longer than ${padding} samples`)
  const padded = filterPadded(signal, padding, signal[0]!, signal[length - 1]!, design)
  return padded.subarray(padding, padding + length)
}

/**
 * Zero-phase filtering of the settled part of a load range as if nothing lay outside it, continued over the rest of the
 * range on either side.
 *
 * What for: filtered with the rest, the inertia at both ends and the brake's impact before it leak tens of milliseconds
 * into the range; and in the few milliseconds of the range before the limb has settled they ARE what was read. There the
 * settled curve is continued by its own odd mirror image. Returns samples from `rangeFrom` to `rangeTo`.
 * The mirror images turn about a value fitted to the end (parabola over half a cutoff period) in place of the end sample,
 * whose noise would otherwise stay in full. Units: those of the signal. Limits: fewer than 5 settled samples, or a range
 * longer on one side than the settled part: the signal as it is. Engineering choice, no source.
 * Errors: none.
 *
 * @example filterLoadRange(torque, { rangeFrom: 190, from: 200, to: 900, rangeTo: 905 }, design, 1000).length // 716
 */
export function filterLoadRange(
  signal: Float64Array,
  { rangeFrom, from, to, rangeTo }: Readonly<Record<'rangeFrom' | 'from' | 'to' | 'rangeTo', number>>,
  design: LowpassDesign,
  sampleRateHz: number,
): Float64Array {
  const settled = signal.subarray(from, to + 1)
  const outside = Math.max(from - rangeFrom, rangeTo - to)
  if (settled.length < 5 || outside >= settled.length) return signal.slice(rangeFrom, rangeTo + 1)
  const period = sampleRateHz / design.cutoffHz
  const padding = Math.min(settled.length - 1, Math.max(outside, Math.ceil(period)))
  const fitted = Math.min(settled.length, Math.max(5, Math.round(period / 2)))
  const first = fittedEnd(fitted, (i) => settled[i]!)
  const last = fittedEnd(fitted, (i) => settled[settled.length - 1 - i]!)
  const padded = filterPadded(settled, padding, first, last, design)
  return padded.subarray(padding - (from - rangeFrom), padding + settled.length + (rangeTo - to))
}

/** Value at sample 0 of the least-squares parabola through samples 0 to n - 1. */
function fittedEnd(n: number, sample: (i: number) => number): number {
  let value = 0
  for (let i = 0; i < n; i++) {
    value += (3 * (3 * n * n - 3 * n + 2) - 18 * (2 * n - 1) * i + 30 * i * i) * sample(i)
  }
  return value / (n * (n + 1) * (n + 2))
}

function filterPadded(
  signal: Float64Array,
  padding: number,
  firstLevel: number,
  lastLevel: number,
  design: LowpassDesign,
): Float64Array {
  const length = signal.length
  const padded = new Float64Array(length + 2 * padding)
  padded.set(signal, padding)
  for (let i = 1; i <= padding; i++) {
    padded[padding - i] = 2 * firstLevel - signal[i]!
    padded[padding + length - 1 + i] = 2 * lastLevel - signal[length - 1 - i]!
  }
  for (const section of design.sections) runForward(padded, section, padded[0]!)
  for (const section of design.sections) runBackward(padded, section, padded[padded.length - 1]!)
  return padded
}

// Transposed direct form II, in place. `level` is the constant the section is taken to have seen for ever: with unit
// gain at 0 Hz the whole cascade rests at the first sample. Two loops, because a loop with a signed step is slower.
function runForward(x: Float64Array, { b0, b1, b2, a1, a2 }: SecondOrderSection, level: number): void {
  let z2 = (b2 - a2) * level
  let z1 = (b1 - a1) * level + z2
  for (let i = 0; i < x.length; i++) {
    const input = x[i]!
    const output = b0 * input + z1
    z1 = b1 * input - a1 * output + z2
    z2 = b2 * input - a2 * output
    x[i] = output
  }
}

function runBackward(x: Float64Array, { b0, b1, b2, a1, a2 }: SecondOrderSection, level: number): void {
  let z2 = (b2 - a2) * level
  let z1 = (b1 - a1) * level + z2
  for (let i = x.length - 1; i >= 0; i--) {
    const input = x[i]!
    const output = b0 * input + z1
    z1 = b1 * input - a1 * output + z2
    z2 = b2 * input - a2 * output
    x[i] = output
  }
}

/**
 * Butterworth low-pass design as second-order sections, and the cutoff a pass needs so that several passes together
 * have the cutoff that was asked for.
 */

/** One section: (b0 + b1 z^-1 + b2 z^-2) / (1 + a1 z^-1 + a2 z^-2). */
export interface SecondOrderSection {
  readonly b0: number
  readonly b1: number
  readonly b2: number
  readonly a1: number
  readonly a2: number
}

function requireOrder(order: number): void {
  if (!Number.isInteger(order) || order < 2 || order % 2 !== 0) throw new RangeError('order must be even and positive')
}

function requireBelowNyquist(cutoffHz: number, sampleRateHz: number): void {
  if (!(sampleRateHz > 0)) throw new RangeError('sample rate must be positive')
  if (!(cutoffHz > 0 && cutoffHz < sampleRateHz / 2)) throw new RangeError('cutoff must lie between 0 and Nyquist')
}

/**
 * Butterworth low-pass of any even order.
 *
 * What for: smoothing torque, angle and velocity. Formula: the analogue prototype's pole pairs through the bilinear
 * transform with the cutoff pre-warped, tan(pi fc / fs). Sections, not one long polynomial: at 10 Hz of 5 kHz a
 * polynomial of order 8 has lost its digits. Each section has unit gain at 0 Hz.
 * Units: Hz. Errors: RangeError for an odd or non-positive order, or a cutoff outside (0, fs / 2).
 * Source: Winter 2009, Biomechanics and Motor Control of Human Movement, 4th ed. Second route: scipy.signal.butter.
 * Limits: low-pass of even order only.
 *
 * @example butterworthLowpass(2, 12.2492406076, 100)[0].a2 // 0.340428...
 */
export function butterworthLowpass(order: number, cutoffHz: number, sampleRateHz: number): SecondOrderSection[] {
  requireOrder(order)
  requireBelowNyquist(cutoffHz, sampleRateHz)
  const k = Math.tan((Math.PI * cutoffHz) / sampleRateHz)
  return Array.from({ length: order / 2 }, (_, section) => {
    const damping = 2 * Math.sin((Math.PI * (2 * section + 1)) / (2 * order))
    const scale = 1 / (1 + damping * k + k * k)
    const b0 = k * k * scale
    return { b0, b1: 2 * b0, b2: b0, a1: 2 * (k * k - 1) * scale, a2: (1 - damping * k + k * k) * scale }
  })
}

/**
 * How much a pass's pre-warped cutoff must be raised for several passes: C = (2^(1/passes) - 1)^(1/(2 order)).
 *
 * Source: Winter 2009 p. 69 and Robertson et al. 2014, Research Methods in Biomechanics, 2nd ed., p. 288, for order 2.
 * What for: two passes of an uncorrected filter are 6 dB down at its cutoff, not 3. Units: none. Errors: RangeError
 * for an odd order or a number of passes that is not whole. Limits: Butterworth only.
 *
 * @example passCorrection(2, 2) // 0.802243...
 */
export function passCorrection(order: number, passes: number): number {
  requireOrder(order)
  if (!Number.isInteger(passes) || passes < 1) throw new RangeError('passes must be a positive integer')
  return (2 ** (1 / passes) - 1) ** (1 / (2 * order))
}

/**
 * Cutoff to design each of two passes with, so that both together are 3 dB down at the cutoff asked for.
 *
 * Formula: U = tan(pi fc / fs) / C, design = fs / pi * atan(U). It is the pre-warped frequency that is corrected;
 * fc / C alone is wrong near Nyquist (12.465 in place of 12.249 Hz in the example).
 * Units: Hz. Source: as passCorrection. Errors: RangeError for a cutoff outside (0, fs / 2).
 * Limits: two passes only.
 * What for: two passes that together have the cutoff asked for.
 *
 * @example dualPassDesignCutoffHz(10, 100, 2) // 12.2492406076
 */
export function dualPassDesignCutoffHz(cutoffHz: number, sampleRateHz: number, order: number): number {
  requireBelowNyquist(cutoffHz, sampleRateHz)
  const warped = Math.tan((Math.PI * cutoffHz) / sampleRateHz) / passCorrection(order, 2)
  return (sampleRateHz / Math.PI) * Math.atan(warped)
}

/**
 * Amplitude gain of ONE pass at a frequency; square it for two passes.
 *
 * What for: looking at a design. Units: Hz in, amplitude ratio out. Errors: none. Source: transfer function at exp(i
 * w). Limits: at the cutoff of two passes one pass is 0.841.
 *
 * @example gainAtHz(butterworthLowpass(2, 10, 100), 10, 100) ** 2 // 0.5
 */
export function gainAtHz(sections: readonly SecondOrderSection[], frequencyHz: number, sampleRateHz: number): number {
  const w = (2 * Math.PI * frequencyHz) / sampleRateHz
  const size = (c0: number, c1: number, c2: number) =>
    Math.hypot(c0 + c1 * Math.cos(w) + c2 * Math.cos(2 * w), c1 * Math.sin(w) + c2 * Math.sin(2 * w))
  return sections.reduce((gain, s) => (gain * size(s.b0, s.b1, s.b2)) / size(1, s.a1, s.a2), 1)
}

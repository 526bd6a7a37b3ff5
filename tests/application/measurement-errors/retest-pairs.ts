/** Pairs of tests, made so that the error in them is exactly the one wanted, with no learning. */

/** SEM = root of the sum of squared differences over 2n: each pair differs by root 2 x SEM, one up, one down. */
export function retestPairs(count: number, semNm: number, levelNm = (i: number): number => 100 + 4 * i) {
  return Array.from({ length: count }, (_, i) => {
    const half = ((i % 2 === 0 ? 1 : -1) * Math.SQRT2 * semNm) / 2
    return pair(levelNm(i) - half, levelNm(i) + half)
  })
}

/** The same on logarithms, of a coefficient of variation in percent: Hopkins 2000, Sports Med 30:1-15. */
export function retestPairsInPercent(count: number, coefficientOfVariationPct: number) {
  return Array.from({ length: count }, (_, i) => {
    const half = ((i % 2 === 0 ? 1 : -1) * Math.SQRT2 * Math.log1p(coefficientOfVariationPct / 100)) / 2
    return pair(150 * Math.exp(-half), 150 * Math.exp(half))
  })
}

const pair = (first: number, second: number) => ({ first: { value: first, unit: 'N.m' }, second: { value: second, unit: 'N.m' } }) // prettier-ignore

/** Peak torque of concentric extension at 60 deg/s, of operated limbs. */
export const retests = (pairs: readonly object[], more: object = {}) => ({
  joint: 'knee',
  movement: 'extension',
  contractionMode: 'isokinetic_concentric',
  contractionScheme: 'reciprocal',
  velocity: { value: 60, unit: 'deg/s' },
  measure: 'peakTorque',
  scale: 'absolute',
  limbCondition: 'operated',
  source: 'own clinic, retests 2025-02 to 2026-09',
  pairs,
  ...more,
})

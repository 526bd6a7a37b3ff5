import { seededRandom } from './simulator/random.ts'

/** Of one person's peak torque from one test to the next, after setting up anew. */
const ERROR_SD_NM = 5.5
const PEOPLE = 24

/**
 * The invented clinic's own study: twenty-four people with an operated knee, each tested twice within ten days. From it the
 * service learns the error that it judges this clinic's changes with.
 */
export function retestPairs(seed: number) {
  const random = seededRandom(seed)
  const tenth = (torqueNm: number) => ({ value: Math.round(10 * torqueNm) / 10, unit: 'N.m' })
  const pairs = Array.from({ length: PEOPLE }, () => {
    const strength = 130 + 30 * random.normal()
    return {
      first: tenth(strength + ERROR_SD_NM * random.normal()),
      second: tenth(strength + ERROR_SD_NM * random.normal()),
    }
  })
  return {
    joint: 'knee',
    movement: 'extension',
    contractionMode: 'isokinetic_concentric',
    contractionScheme: 'reciprocal',
    velocity: { value: 60, unit: 'deg/s' },
    measure: 'peakTorque',
    scale: 'absolute',
    limbCondition: 'operated',
    source: `own clinic, ${PEOPLE} retests within ten days`,
    pairs,
  }
}

import { readFileSync } from 'node:fs'
import { expect, it } from 'vitest'

/** Mistakes known to be made in this trade, by the number under which one test each shows that they are not made here. */
const TRAPS = [
  'gravity with the wrong sign, wrong by twice the moment',
  'work over degrees in place of radians',
  'Nm in place of N.m, and torque taken for work',
  'standard deviation over n in place of n - 1',
  '"above 90" and "at or above 90"',
  'a timed hop not turned round',
  'pre-injury capacity without a test from before',
  'an intraclass correlation without its form',
  'twice the SD for 1.96 root two times the within-subject SD',
  'ratio of means for mean of ratios',
  'the impact of an overshoot for peak torque',
  'torque at an angle outside the load range',
  'the cutoff corrected in place of its tangent',
  'an empty load range at high velocity',
  'a corrected against an uncorrected test',
  'a slope through tests that may not be compared',
  'two forms of one questionnaire',
  'a symmetry above 100 clipped',
  'foot-pounds read as newton metres',
  'the offset that two pad positions cannot show',
  'a repetition under pain for peak torque',
  'a caption that contradicts its formula',
  'hazard ratio and risk ratio',
]

it('each of the traps is shown by exactly one test of that number', () => {
  const tests = ['signal', 'statistics', 'decisions']
    .map((name) => readFileSync(new URL(`traps-${name}.test.ts`, import.meta.url), 'utf8'))
    .join('\n')
  const numbers = [...tests.matchAll(/\bit\('trap (\d+): /g)].map((match) => Number(match[1]))
  expect(numbers.toSorted((a, b) => a - b)).toEqual(TRAPS.map((_, i) => i + 1))
})

import { expect, it } from 'vitest'
import { betterWhen, MEASURE_NAMES } from '../../../src/compute/index.ts'

it('calls more better for strength, work and power, and says nothing of angles, ranges, times and fatigue', () => {
  const declared = [...MEASURE_NAMES, 'torqueAtAngle' as const].filter((name) => betterWhen(name, 'best') !== null)
  expect(declared.toSorted()).toEqual([
    'averagePower',
    'averagePowerPerBodyMass',
    'impulse',
    'isometricPlateauTorque',
    'peakPower',
    'peakTorque',
    'peakTorquePerBodyMass',
    'rateOfTorqueDevelopment',
    'torqueAtAngle',
    'totalWork',
    'workPerBodyMass',
    'workPerRepetition',
  ])
  for (const name of declared) {
    for (const statistic of ['best', 'mean', 'total']) expect(betterWhen(name, statistic)).toBe('higher')
    expect(betterWhen(name, 'coefficientOfVariation')).toBeNull()
  }
})

import { describe, expect, it } from 'vitest'
import { canonicalParameters, DEFAULT_PARAMETERS } from '../../src/compute/index.ts'
import type { AnalysisParameters, DirectionProtocol, GravityModel, Protocol } from '../../src/compute/index.ts'
import { checkProtocol } from '../../src/compute/check-protocol.ts'
import { unusableAnalysis } from '../../src/compute/unusable-analysis.ts'
import { concentric, protocolOf } from './hand-made-recording.ts'

const extension = concentric('extension', 60)
const isometric = (movement: DirectionProtocol['movement'], velocityDegS = 0): DirectionProtocol => ({
  movement,
  contractionMode: 'isometric',
  velocityDegS,
})
const check = (directions: readonly DirectionProtocol[], changes: Partial<Protocol> = {}) => {
  checkProtocol(protocolOf(directions, changes))
  return 'taken'
}
const refusal = (directions: readonly DirectionProtocol[], changes: Partial<Protocol> = {}) => {
  try {
    return check(directions, changes)
  } catch (error) {
    expect(error).toBeInstanceOf(RangeError)
    return (error as RangeError).message
  }
}

describe('a protocol that no analysis can be made with', () => {
  it('has no direction, three, or two that are the same or of another pair', () => {
    expect(refusal([])).toBe('a set has one or two directions')
    expect(refusal([extension, concentric('flexion', 60), extension])).toBe('a set has one or two directions')
    expect(refusal([extension, concentric('abduction' as 'flexion', 60)])).toBe('both directions must be of one pair')
    expect(refusal([extension, concentric('extension', 180)])).toBe('the two directions must differ')
    expect(refusal([extension, { ...extension, contractionMode: 'isokinetic_eccentric' }])).toBe('taken')
    expect(refusal([extension, concentric('flexion', 60)])).toBe('taken')
  })

  it('has a velocity that does not go with its mode', () => {
    expect(refusal([isometric('extension', 1)])).toBe('an isometric direction has velocity 0')
    for (const velocity of [0, -60, Infinity, NaN]) {
      expect(refusal([concentric('extension', velocity)])).toBe('an isokinetic direction needs a positive set velocity')
    }
    const mixed = 'isometric and isokinetic directions do not share a recording'
    expect(refusal([isometric('extension'), concentric('flexion', 60)])).toBe(mixed)
    expect(refusal([extension, isometric('flexion')])).toBe(mixed)
    expect(refusal([isometric('extension'), isometric('flexion')])).toBe('taken')
  })

  it('has a body mass outside 1 to 1000 kg', () => {
    const mass = (bodyMassKg: number | null) => refusal([extension], { bodyMassKg })
    for (const fine of [null, 1, 75, 999.9]) expect(mass(fine)).toBe('taken')
    for (const wrong of [0.9, 0, -5, 1000, NaN]) expect(mass(wrong)).toBe('body mass must lie between 1 and 1000 kg')
  })

  it('has a gravity model with a number that no limb has', () => {
    const orientation = { belowHorizontalAtZeroDeg: 0, perJointDegree: 1 } as const
    const gravity = (model: GravityModel) => refusal([extension], { gravity: model })
    const absurd = 'the gravity model holds a number that no limb has'
    expect(gravity({ kind: 'cosine', momentNm: 9999, orientation })).toBe('taken')
    expect(gravity({ kind: 'cosine', momentNm: 10_000, orientation })).toBe(absurd)
    expect(gravity({ kind: 'cosine', momentNm: NaN, orientation })).toBe(absurd)
    const turned = { ...orientation, belowHorizontalAtZeroDeg: Infinity }
    expect(gravity({ kind: 'cosine', momentNm: 12, orientation: turned })).toBe(absurd)
    const shifted = (cosineNm: number, sineNm: number) =>
      gravity({ kind: 'phase_shifted', cosineNm, sineNm, orientation })
    expect(shifted(12, -2)).toBe('taken')
    expect(shifted(-1e5, -2)).toBe(absurd)
    expect(shifted(12, 1e5)).toBe(absurd)
    expect(gravity({ kind: 'horizontal_plane' })).toBe('taken')
  })

  it('has a passive sweep of one angle, of angles without torque, or that do not ascend', () => {
    const sweep = (angleDeg: number[], passiveTorqueNm: number[]) =>
      refusal([extension], { gravity: { kind: 'passive_sweep', angleDeg, passiveTorqueNm } as GravityModel })
    expect(sweep([0, 90], [-12, 0])).toBe('taken')
    expect(sweep([0], [-12])).toBe('a passive sweep needs at least two angles')
    expect(sweep([0, 90], [-12])).toBe('a passive sweep needs a torque per angle')
    expect(sweep([0, 45, 45], [-12, -9, 0])).toBe('the angles of a passive sweep must ascend')
    expect(sweep([0, 90, 45], [-12, -9, 0])).toBe('the angles of a passive sweep must ascend')
    expect(sweep([0, 90], [-12, NaN])).toBe('the gravity model holds a number that no limb has')
    expect(sweep([0, Infinity], [-12, 0])).toBe('the gravity model holds a number that no limb has')
  })

  it('has parameters without meaning', () => {
    const parameters = (changes: Partial<AnalysisParameters>) =>
      refusal([extension], { parameters: { ...DEFAULT_PARAMETERS, ...changes } })
    const { loadRange, movement, recording } = DEFAULT_PARAMETERS
    const band = (bandPercent: number) => parameters({ loadRange: { ...loadRange, bandPercent } })
    expect([0, -1, 100, NaN].map(band)).toEqual(
      new Array(4).fill('the velocity band must lie between 0 and 100 %') as string[],
    )
    expect([0.1, 99.9].map(band)).toEqual(['taken', 'taken'])
    const share = (minimumPercentOfSetVelocity: number) =>
      parameters({ movement: { ...movement, minimumPercentOfSetVelocity } })
    expect([4.9, 100, NaN].map(share)).toEqual(
      new Array(3).fill('minimumPercentOfSetVelocity must lie between 5 and 100') as string[],
    )
    expect([5, 99.9].map(share)).toEqual(['taken', 'taken'])
    for (const minimumRangeDeg of [0, Infinity]) {
      expect(parameters({ movement: { ...movement, minimumRangeDeg } })).toBe('minimumRangeDeg must be positive')
    }
    expect(parameters({ recording: { ...recording, minimumSampleRateHz: 0 } })).toBe(
      'the sample rate limits must be positive',
    )
  })

  it('has a filter that cannot be built', () => {
    const given = DEFAULT_PARAMETERS.filter as Extract<AnalysisParameters['filter'], { kind: 'butterworth_zero_phase' }>
    const filter = (changes: Partial<typeof given>) =>
      refusal([extension], { parameters: { ...DEFAULT_PARAMETERS, filter: { ...given, ...changes } } })
    for (const orderPerPass of [0, 1, 3]) expect(filter({ orderPerPass })).toBe('the filter order must be even')
    expect([2, 4].map((orderPerPass) => filter({ orderPerPass }))).toEqual(['taken', 'taken'])
    const cutoffs = 'filter cutoffs must be positive'
    expect(filter({ cutoffs: [] })).toBe(cutoffs)
    expect(filter({ cutoffs: [...given.cutoffs, { upToDegS: 600, cutoffHz: 0 }] })).toBe(cutoffs)
    for (const name of ['isometricCutoffHz', 'kinematicCutoffMultiple', 'rateOfTorqueDevelopmentCutoffHz'] as const) {
      expect(filter({ [name]: 0 })).toBe(cutoffs)
      expect(filter({ [name]: Infinity })).toBe(cutoffs)
    }
  })
})

describe('an analysis of a recording that cannot be used', () => {
  it('has the reason on everything and no number anywhere', () => {
    const protocol = protocolOf([extension])
    const analysis = unusableAnalysis('no_torque_values', { corrected: 'no', name: 'none', apply: null }, protocol)
    expect(analysis).toMatchObject({
      findings: [{ code: 'no_torque_values', level: 'hold', detail: 'The recording cannot be analysed.' }],
      filter: 'none',
      resampled: false,
      velocitySource: 'derived_from_angle',
      directions: [{ repetitions: [], counted: 0, notCounted: [] }],
    })
    expect(analysis.directions[0]!.measures.fatigueSlope).toEqual({
      total: { value: null, reason: 'no_torque_values' },
    })
  })
})

describe('the canonical text of parameters', () => {
  const text = (value: unknown) => canonicalParameters(value as AnalysisParameters)

  it('does not depend on the order of keys, and keeps that of lists', () => {
    expect(text({ b: 1, a: [true, null, 'x', { d: -2.5, c: false }] })).toBe(
      '{"a":[true,null,"x",{"c":false,"d":-2.5}],"b":1}',
    )
    expect(text({ a: 1, b: 2, c: 3 })).toBe(text({ c: 3, a: 1, b: 2 }))
    expect(text([2, 1])).toBe('[2,1]')
  })

  it('takes plain JSON only', () => {
    for (const number of [NaN, Infinity]) expect(() => text({ a: number })).toThrow('parameters must be finite numbers')
    for (const value of [undefined, () => 1, Symbol('x')]) {
      expect(() => text({ a: value })).toThrow('parameters must be plain JSON')
    }
  })
})

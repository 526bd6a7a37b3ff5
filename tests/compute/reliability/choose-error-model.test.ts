import { describe, expect, it } from 'vitest'
import {
  chooseErrorModel,
  MINIMUM_CLINIC_PAIRS,
  populationMatch,
  PUBLISHED_ERRORS,
  RECENT_SURGERY_MONTHS,
  REFERENCE_DATA_VERSION,
  type ClinicError,
  type ErrorQuery,
  type LimbCondition,
  type PublishedError,
  type TestedPerson,
} from '../../../src/compute/index.ts'

const healthy: TestedPerson = { limbCondition: 'no_history', monthsSinceSurgery: null, sex: 'female', ageYears: 22 }
const operated = (monthsSinceSurgery: number | null): TestedPerson => ({
  ...healthy,
  limbCondition: 'operated',
  monthsSinceSurgery,
})
const query = (change: Partial<ErrorQuery> = {}): ErrorQuery => ({
  joint: 'knee',
  movement: 'extension',
  contractionMode: 'isokinetic_concentric',
  velocityDegS: 60,
  measure: 'peakTorque',
  person: healthy,
  ...change,
})
const clinic = (change: Partial<ClinicError> = {}): ClinicError => ({
  scale: 'absolute',
  sem: 6.8,
  degreesOfFreedom: 24,
  pairs: 24,
  source: 'own clinic',
  limbCondition: 'operated',
  meanShiftDetected: false,
  ...change,
})

describe('choosing the measurement error of a change', () => {
  it("prefers the clinic's own pairs from like limbs, with the published form of its detectable change", () => {
    const model = chooseErrorModel(query({ person: operated(3) }), clinic(), 0.95)
    expect(model).toMatchObject({ kind: 'clinic_test_retest', sem: 6.8, n: 24, degreesOfFreedom: 24, cautions: [] })
    expect(model.kind === 'none' ? null : model.mdc).toBeCloseTo(18.85, 2)
  })

  it('says beside it that the retests shifted', () => {
    const model = chooseErrorModel(query({ person: operated(3) }), clinic({ meanShiftDetected: true }), 0.95)
    expect(model).toMatchObject({ cautions: ['mean_shift_in_retests'] })
  })

  it("passes over a clinic's pairs that are too few, and says so", () => {
    const few = clinic({ pairs: MINIMUM_CLINIC_PAIRS - 1, limbCondition: 'no_history' })
    expect(chooseErrorModel(query(), few, 0.95)).toMatchObject({
      kind: 'published',
      cautions: ['clinic_pairs_too_few'],
    })
    const enough = clinic({ pairs: MINIMUM_CLINIC_PAIRS, limbCondition: 'no_history' })
    expect(chooseErrorModel(query(), enough, 0.95).kind).toBe('clinic_test_retest')
  })

  it("passes over a clinic's pairs from limbs unlike the one judged", () => {
    expect(chooseErrorModel(query({ person: operated(3) }), clinic({ limbCondition: 'no_history' }), 0.95)).toEqual({
      kind: 'none',
      reason: 'healthy_sample_for_recently_operated_limb',
    })
    const published = chooseErrorModel(query({ person: operated(30) }), clinic({ limbCondition: 'injured' }), 0.95)
    expect(published).toMatchObject({ kind: 'published' })
    expect(published.kind === 'none' ? [] : published.cautions).toContain('clinic_population_mismatch')
  })

  it('takes a published error with its source, its number of subjects, and the upper end of its range', () => {
    expect(chooseErrorModel(query(), null, 0.95)).toMatchObject({
      kind: 'published',
      scale: 'percent',
      sem: 10,
      n: 18,
      source: 'Sole 2007 Arch Phys Med Rehabil 88:626-31',
      degreesOfFreedom: null,
      cautions: [],
    })
  })

  it('takes the rise of the log model as detectable change of a percentage error', () => {
    const model = chooseErrorModel(query(), null, 0.95)
    expect(model.kind === 'none' ? null : model.mdc).toBeCloseTo(
      100 * Math.expm1(1.959964 * Math.SQRT2 * Math.log(1.1)),
      4,
    )
  })

  it.each<[string, Partial<ErrorQuery>, number]>([
    ['eccentric 60 deg/s', { contractionMode: 'isokinetic_eccentric' }, 10],
    ['concentric 90 deg/s extension', { velocityDegS: 90 }, 7.4],
    [
      'rate of torque development',
      { contractionMode: 'isometric', velocityDegS: 0, measure: 'rateOfTorqueDevelopment' },
      16.4,
    ],
    ['concentric 400 deg/s', { velocityDegS: 400 }, 10.5],
  ])('finds %s', (_name, change, sem) => {
    expect(chooseErrorModel(query(change), null, 0.95)).toMatchObject({ kind: 'published', sem })
  })

  it('prefers a percentage where a percentage and an absolute error describe the same test', () => {
    const model = chooseErrorModel(query({ contractionMode: 'isometric', velocityDegS: 0 }), null, 0.95)
    expect(model).toMatchObject({ scale: 'percent', sem: 7.4 })
  })

  it.each<[string, Partial<ErrorQuery>]>([
    ['another joint', { joint: 'shoulder', movement: 'internal_rotation' }],
    ['another velocity', { velocityDegS: 61 }],
    ['another mode', { contractionMode: 'isometric' }],
    ['another measure', { measure: 'angleOfPeakTorque' }],
    ['a movement not studied', { velocityDegS: 90, movement: 'flexion' }],
  ])('has none for %s', (_name, change) => {
    expect(chooseErrorModel(query(change), null, 0.95)).toEqual({
      kind: 'none',
      reason: 'no_published_error_for_this_test',
    })
  })

  it('does not use young adults for someone of 70, and says when the age is not known', () => {
    expect(chooseErrorModel(query({ person: { ...healthy, ageYears: 70 } }), null, 0.95)).toEqual({
      kind: 'none',
      reason: 'population_mismatch',
    })
    expect(chooseErrorModel(query({ person: { ...healthy, ageYears: 12 } }), null, 0.95).kind).toBe('none')
    expect(chooseErrorModel(query({ person: { ...healthy, ageYears: null } }), null, 0.95)).toMatchObject({
      cautions: ['age_not_compared'],
    })
  })

  it('calls an impossible confidence a caller mistake, even where no error is found', () => {
    expect(() => chooseErrorModel(query({ velocityDegS: 61 }), null, 95)).toThrow('confidence lies between 0 and 1')
  })

  it('carries the caution of a population that is like enough, of a clinic as of a publication', () => {
    const own = chooseErrorModel(query(), clinic({ limbCondition: 'operated' }), 0.95)
    expect(own).toMatchObject({
      kind: 'clinic_test_retest',
      cautions: ['patient_sample_for_limb_without_history'],
    })
    expect(chooseErrorModel(query({ person: operated(30) }), null, 0.95)).toMatchObject({
      kind: 'published',
      cautions: ['healthy_sample_for_operated_limb'],
    })
  })

  it('takes the ends of an age range as inside it', () => {
    const aged = (ageYears: number) => chooseErrorModel(query({ person: { ...healthy, ageYears } }), null, 0.95).kind
    expect([15.9, 16, 40, 40.1].map(aged)).toEqual(['none', 'published', 'published', 'none'])
  })
})

describe('choosing among the rows of a table', () => {
  const sole = PUBLISHED_ERRORS.find((row) => row.key === 'sole-2007-torque-work')!
  const row = (key: string, change: Partial<PublishedError> = {}): PublishedError => ({
    ...sole,
    key,
    source: key,
    ...change,
  })
  const of = (sex: PublishedError['population']['sex']) => ({ population: { ...sole.population, sex } })
  const chosen = (rows: readonly PublishedError[], change: Partial<ErrorQuery> = {}): string => {
    const model = chooseErrorModel(query(change), null, 0.95, rows)
    return model.kind === 'none' ? model.reason : model.source
  }
  const sem = (high: number) => ({ sem: { low: high, high } })

  it('does not use a sample of one sex for the other or for an unknown one', () => {
    expect(chosen([row('women', of('female'))])).toBe('women')
    expect(chosen([row('men', of('male'))])).toBe('population_mismatch')
    const unknown = { person: { ...healthy, sex: 'unknown' as const } }
    expect(chosen([row('women', of('female'))], unknown)).toBe('population_mismatch')
    expect(chosen([row('both', of('mixed'))], unknown)).toBe('both')
    expect(chooseErrorModel(query(), null, 0.95, [row('not said', of('not_stated'))])).toMatchObject({
      cautions: ['sample_sex_not_stated'],
    })
  })

  it('takes the larger of two errors of one scale, the first of two equal ones, and a percentage before torque', () => {
    expect(chosen([row('small', sem(4)), row('large', sem(9))])).toBe('large')
    expect(chosen([row('large', sem(9)), row('small', sem(4))])).toBe('large')
    expect(chosen([row('first', sem(9)), row('second', sem(9))])).toBe('first')
    const inNm = { ...sem(30), scale: 'absolute' as const }
    expect(chosen([row('torque', inNm), row('per cent', sem(4))])).toBe('per cent')
    expect(chosen([row('per cent', sem(4)), row('torque', inNm)])).toBe('per cent')
  })

  it('takes no row of another joint', () => {
    expect(chosen([row('ankle', { joint: 'ankle' })])).toBe('no_published_error_for_this_test')
  })
})

describe('whether an error of one population may judge a limb', () => {
  const person = (limbCondition: LimbCondition, months: number | null = null): TestedPerson => ({
    ...healthy,
    limbCondition,
    monthsSinceSurgery: months,
  })

  it.each<[LimbCondition, TestedPerson, string]>([
    ['no_history', person('operated', 3), 'healthy_sample_for_recently_operated_limb'],
    ['no_history', person('operated', RECENT_SURGERY_MONTHS - 0.01), 'healthy_sample_for_recently_operated_limb'],
    ['no_history', person('operated', null), 'healthy_sample_for_recently_operated_limb'],
    ['no_history', person('injured'), 'healthy_sample_for_injured_limb'],
    ['no_history', person('osteoarthritis'), 'population_mismatch'],
    ['no_history', person('unknown'), 'limb_condition_unknown'],
    ['operated', person('unknown'), 'limb_condition_unknown'],
    ['operated', person('osteoarthritis'), 'population_mismatch'],
    ['osteoarthritis', person('operated', 3), 'population_mismatch'],
    ['unknown', person('no_history'), 'sample_population_unknown'],
    ['unknown', person('unknown'), 'sample_population_unknown'],
  ])('sample %s: refused (%#)', (sample, tested, reason) => {
    expect(populationMatch(sample, tested)).toEqual({ allowed: false, reason })
  })

  it.each<[LimbCondition, TestedPerson, string | null]>([
    ['no_history', person('no_history'), null],
    ['operated', person('operated', 3), null],
    ['no_history', person('operated', RECENT_SURGERY_MONTHS), 'healthy_sample_for_operated_limb'],
    ['operated', person('no_history'), 'patient_sample_for_limb_without_history'],
  ])('sample %s: allowed (%#)', (sample, tested, caution) => {
    expect(populationMatch(sample, tested)).toEqual({ allowed: true, caution })
  })
})

describe('the published error table', () => {
  it('has a version, unique keys and a source with a year on every row', () => {
    expect(REFERENCE_DATA_VERSION).toMatch(/^\d{4}\.\d+$/)
    expect(new Set(PUBLISHED_ERRORS.map((row) => row.key)).size).toBe(PUBLISHED_ERRORS.length)
    for (const row of PUBLISHED_ERRORS) expect(row.source).toMatch(/\b(19|20)\d\d\b/)
  })

  it('converts the torques printed in lbf.ft exactly: 7.0 and 3.0 are 9.4907 and 4.0675 N.m (McCleary & Andersen 1992)', () => {
    const sem = (key: string): number | undefined => PUBLISHED_ERRORS.find((row) => row.key === key)?.sem.high
    expect(sem('mccleary-1992-extension')).toBeCloseTo(9.4907, 4)
    expect(sem('mccleary-1992-flexion')).toBeCloseTo(4.0675, 4)
  })

  it('keeps each printed change within reach of 2.77 times its printed SEM, the one exception named', () => {
    // Abstracts round to whole or tenth percents; 5 % covers it. The first-100-ms rate prints 47.5 beside 16.4 (45.5).
    for (const row of PUBLISHED_ERRORS) {
      if (row.mdcPrinted === null) continue
      const implied = 1.96 * Math.SQRT2 * row.sem.high
      const tolerance = row.key === 'sole-2007-torque-work' ? 0.12 : 0.05
      expect(Math.abs(row.mdcPrinted.high - implied) / implied, row.key).toBeLessThan(tolerance)
    }
  })

  it('never chooses a row whose velocity or mode was not readable', () => {
    const unreadable = PUBLISHED_ERRORS.filter((row) => row.velocitiesDegS === null || row.contractionModes === null)
    expect(unreadable.length).toBeGreaterThan(0)
    for (const row of unreadable) {
      for (const velocityDegS of [0, ...(row.velocitiesDegS ?? [60, 90, 180])]) {
        for (const contractionMode of ['isokinetic_concentric', 'isokinetic_eccentric', 'isometric'] as const) {
          const model = chooseErrorModel(
            query({
              joint: row.joint,
              movement: row.movements[0] as ErrorQuery['movement'],
              velocityDegS,
              contractionMode,
              person: {
                limbCondition: row.population.limbCondition,
                monthsSinceSurgery: null,
                sex: 'male',
                ageYears: 25,
              },
            }),
            null,
            0.95,
          )
          if (model.kind === 'published') expect(model.source).not.toBe(row.source)
        }
      }
    }
  })
})

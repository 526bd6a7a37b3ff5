import { describe, expect, it } from 'vitest'
import { DE_LEVA, DEMPSTER_WINTER, PUBLISHED_CRITERIA_SETS, PUBLISHED_ERRORS } from '../../src/compute/index.ts'
import type { Criterion } from '../../src/compute/index.ts'

// Copied out of the publications a second time, value by value: a slip in the tables of the core shows here by its name.

describe('body segments', () => {
  it.each([
    ['hand', '0.006 0.506 0.587'],
    ['forearm', '0.016 0.430 0.526'],
    ['upperArm', '0.028 0.436 0.542'],
    ['forearmAndHand', '0.022 0.682 0.827'],
    ['totalArm', '0.050 0.530 0.645'],
    ['foot', '0.0145 0.500 0.690'],
    ['shank', '0.0465 0.433 0.528'],
    ['footAndShank', '0.061 0.606 0.735'],
    ['thigh', '0.100 0.433 0.540'],
    ['totalLeg', '0.161 0.447 0.560'],
  ] as const)('%s: mass, centre and gyration about the near end are %s (Dempster in Winter 2009)', (name, printed) => {
    const { mass, centre, gyrationProximal } = DEMPSTER_WINTER[name]
    expect([mass, centre, gyrationProximal]).toEqual(printed.split(' ').map(Number))
  })

  it.each([
    ['thigh', '0.1416 0.4095', '0.1478 0.3612'],
    ['shank', '0.0433 0.4395', '0.0481 0.4352'],
    ['foot', '0.0137 0.4415', '0.0129 0.4014'],
    ['upperArm', '0.0271 0.5772', '0.0255 0.5754'],
    ['forearm', '0.0162 0.4574', '0.0138 0.4559'],
    ['hand', '0.0061 0.7900', '0.0056 0.7474'],
  ] as const)('%s: mass and centre are %s in men and %s in women (de Leva 1996)', (name, men, women) => {
    expect(DE_LEVA.male[name]).toEqual(men.split(' ').map(Number))
    expect(DE_LEVA.female[name]).toEqual(women.split(' ').map(Number))
  })

  it('are all of these and no more', () => {
    expect(Object.keys(DEMPSTER_WINTER)).toHaveLength(10)
    expect(Object.keys(DE_LEVA.male)).toHaveLength(6)
    expect(Object.keys(DE_LEVA.female)).toHaveLength(6)
  })
})

describe('published measurement errors', () => {
  const CON = ['isokinetic_concentric']
  const ECC = 'isokinetic_eccentric'
  const ISO = ['isometric']
  const LBF_FT = 1.3558179483314004
  // SEM and printed change, smallest and largest; a SEM of null was not printed and follows from the change.
  it.each([
    ['sole-2007-torque-work', 'Sole 2007', 18, [5, 10], [12, 25], [60], [...CON, ECC], 'percent'],
    ['sole-2007-ratios', 'Sole 2007', 18, null, [25, 30], [60], [...CON, ECC], 'percent'],
    ['kambic-2020', 'Kambic 2020', 19, [2.54, 6.93], [7.04, 19.22], [60], null, 'percent'],
    ['ferri-morales-2014-concentric', 'Ferri-Morales 2014', 40, [3.1, 7.4], [8.6, 19.9], [90], CON, 'percent'],
    ['ferri-morales-2014-isometric', 'Ferri-Morales 2014', 40, [3.1, 7.4], [8.6, 19.9], [0], ISO, 'percent'],
    ['ferri-morales-2014-rtd', 'Ferri-Morales 2014', 40, [16.4, 16.4], [47.5, 47.5], [0], ISO, 'percent'],
    ['mccleary-1992-extension', 'McCleary & Andersen 1992', 26, [7 * LBF_FT, 7 * LBF_FT], null, null, CON, 'absolute'],
    ['mccleary-1992-flexion', 'McCleary & Andersen 1992', 26, [3 * LBF_FT, 3 * LBF_FT], null, null, CON, 'absolute'],
    ['bmc-2023-extension', 's13102-023-00788-z', 30, [7.6, 10.5], null, [30, 400], CON, 'absolute'],
    ['bmc-2023-isometric', 's13102-023-00788-z', 30, [7.6, 10.5], null, [0], ISO, 'absolute'],
    ['knee-osteoarthritis-2007', '2007', 28, [14.4, 21.8], [39.9, 59.6], [90, 120, 150], null, 'percent'],
    ['otten-2013', 'Otten 2013', 10, null, [20.6, 20.6], null, null, 'percent'],
    ['methods-protocols-2023-knee', 'mps6020026', 19, [6.6, 19.5], null, null, null, 'percent'],
    ['methods-protocols-2023-ankle', 'mps6020026', 19, [6.6, 19.5], null, null, null, 'percent'],
    ['methods-protocols-2023-hip', 'mps6020026', 19, [6.6, 19.5], null, null, null, 'percent'],
  ] as const)('%s (%s, n = %i)', (key, source, n, sem, change, velocities, modes, scale) => {
    const row = PUBLISHED_ERRORS.find((entry) => entry.key === key)!
    expect(row.source).toContain(source)
    expect(row).toMatchObject({ n, scale, velocitiesDegS: velocities, contractionModes: modes })
    expect(row.mdcPrinted).toEqual(change === null ? null : { low: change[0], high: change[1] })
    expect(row.semImplied).toBe(sem === null)
    // a 95 % change is 1.96 x root 2 of the SEM
    const [low, high] = sem ?? [change[0] / 2.7718585822512662, change[1] / 2.7718585822512662]
    expect(row.sem.low).toBeCloseTo(low, 12)
    expect(row.sem.high).toBeCloseTo(high, 12)
  })

  it('are all of these and no more', () => {
    expect(PUBLISHED_ERRORS).toHaveLength(15)
  })
})

describe('published criteria sets', () => {
  function stated(criterion: Criterion): string {
    const { kind, comparator, threshold } = criterion
    const velocity =
      'series' in criterion ? ` ${criterion.series.movement} ${criterion.series.velocityDegS ?? '-'}` : ''
    const limit =
      typeof threshold === 'string'
        ? threshold
        : 'value' in threshold
          ? `${threshold.value} ${threshold.unit}`
          : `women ${threshold.bySex.female.value}, men ${threshold.bySex.male.value} ${threshold.bySex.male.unit}`
    return `${criterion.key} [${kind}${velocity}] ${comparator} ${limit}`
  }
  const FOUR_HOPS = ['single-hop', 'triple-hop', 'crossover-hop', 'timed-hop']
  const hops = (names: readonly string[], comparator: string, suffix = '') =>
    names.map((name) => `${name}${suffix} [functional_symmetry] ${comparator} 90 %`)

  it.each([
    [
      'kyritsis-2016',
      'Kyritsis 2016 BJSM 50:946-51',
      [
        'quadriceps-deficit-60 [strength_symmetry extension 60] < 10 %',
        ...hops(['single-hop', 'triple-hop', 'crossover-hop'], '>'),
        'running-t-test [functional_value] < 11 s',
        'on-field-rehabilitation [clinician_observation] is completed',
      ],
    ],
    [
      'grindem-2020',
      'Grindem 2020 BJSM 54:1099-1102',
      [
        'kos-adls [questionnaire_total] >= 90 {score}',
        'global-rating [questionnaire_total] >= 90 {score}',
        'quadriceps-symmetry-60 [strength_symmetry extension 60] >= 90 %',
        ...hops(FOUR_HOPS, '>='),
      ],
    ],
    [
      'toole-2017',
      'Toole 2017 JOSPT 47:825-33',
      [
        'ikdc [questionnaire_total] >= 90 {score}',
        'quadriceps-symmetry [strength_symmetry extension -] >= 90 %',
        'hamstring-symmetry [strength_symmetry flexion -] >= 90 %',
        ...hops(FOUR_HOPS, '>='),
      ],
    ],
    [
      'gokeler-2017',
      'Gokeler 2017 KSSTA 25:192-9',
      [
        'quadriceps-symmetry-60 [strength_symmetry extension 60] > 90 %',
        'quadriceps-symmetry-180 [strength_symmetry extension 180] > 90 %',
        'quadriceps-symmetry-300 [strength_symmetry extension 300] > 90 %',
        'hamstring-symmetry-60 [strength_symmetry flexion 60] > 90 %',
        'hamstring-symmetry-180 [strength_symmetry flexion 180] > 90 %',
        'hamstring-symmetry-300 [strength_symmetry flexion 300] > 90 %',
        'quadriceps-per-body-mass-60 [normalised_torque extension 60] > 3 N.m/kg',
        'hamstring-quadriceps-ratio-300 [strength_ratio] > women 55, men 62.5 %',
        ...hops(['single-hop', 'triple-hop', 'side-hop'], '>'),
        'landing-error-score [functional_value] < 5 {score}',
        'ikdc-percentile [clinician_observation] is within_reference',
        'acl-rsi [questionnaire_total] > 56 {score}',
      ],
    ],
    [
      'wellsandt-2017',
      'Wellsandt 2017 JOSPT 47:334-8',
      [
        'quadriceps-symmetry [strength_symmetry extension -] >= 90 %',
        ...hops(FOUR_HOPS, '>='),
        'quadriceps-pre-injury-capacity [strength_symmetry extension -] >= 90 %',
        ...hops(FOUR_HOPS, '>=', '-pre-injury-capacity'),
      ],
    ],
  ])('%s states the criteria of %s', (key, citation, expected) => {
    const set = PUBLISHED_CRITERIA_SETS.find((entry) => entry.key === key)!
    expect(set.citation).toBe(citation)
    expect(set.rule).toEqual({ kind: 'all' })
    expect(set.criteria.map(stated)).toEqual(expected)
  })

  it('are all of these and no more', () => {
    expect(PUBLISHED_CRITERIA_SETS).toHaveLength(5)
  })
})

import { describe, expect, it } from 'vitest'
import { compareFacts, compareLimbs, DEFAULT_COMPARABILITY_RULES, isFullyKnown } from '../../../src/compute/index.ts'
import type { ComparabilityFacts, SettingFact } from '../../../src/compute/index.ts'
import { factDifference, settingDifference, zeroReading } from '../../../src/compute/comparability/differences.ts'
import { KNOWN_FACTS, setting } from './known-facts.ts'

const BEST = { before: 'best', now: 'best' } as const
type Facts = Partial<ComparabilityFacts>

function difference(id: string, before: Facts, now: Facts) {
  const rule = DEFAULT_COMPARABILITY_RULES.find((candidate) => candidate.id === id)!
  return factDifference(rule, { ...KNOWN_FACTS, ...before }, { ...KNOWN_FACTS, ...now }, BEST)
}
/** Both orders of the tests: the size is the same, and the words change places. */
function expectDifference(id: string, before: Facts, now: Facts, size: number | null, words?: readonly unknown[]) {
  const there = difference(id, before, now)
  const back = difference(id, now, before)
  if (size === null) expect([there.size, back.size]).toEqual([null, null])
  else {
    expect(there.size).toBeCloseTo(size, 9)
    expect(back.size).toBeCloseTo(size, 9)
  }
  expect([back.now, back.before]).toEqual([there.before, there.now])
  if (words !== undefined) expect([there.before, there.now]).toEqual(words)
}

describe('how far apart two facts are, in both orders', () => {
  const kg = (value: number) => ({ value, unit: 'kg' })

  it('body mass: in per cent of the larger, unknown where one is missing or no mass', () => {
    expectDifference('body_mass', { bodyMassKg: 75 }, { bodyMassKg: 60 }, 20, [kg(75), kg(60)])
    expectDifference('body_mass', { bodyMassKg: 75 }, { bodyMassKg: null }, null, [kg(75), null])
    expectDifference('body_mass', { bodyMassKg: 75 }, { bodyMassKg: NaN }, null, [kg(75), null])
    expectDifference('body_mass', { bodyMassKg: null }, { bodyMassKg: null }, null, [null, null])
    expectDifference('body_mass', { bodyMassKg: 75 }, { bodyMassKg: 0 }, null)
    expectDifference('body_mass', { bodyMassKg: 0 }, { bodyMassKg: 0 }, null)
    expectDifference('body_mass', { bodyMassKg: -5 }, { bodyMassKg: 75 }, null)
  })

  it('numbers: with their unit, or as a word where they have none', () => {
    const mm = (value: number) => ({ value, unit: 'mm' })
    expectDifference('lever_arm_length', { leverArmMm: 300 }, { leverArmMm: 285 }, 15, [mm(300), mm(285)])
    expectDifference('lever_arm_length', { leverArmMm: 300 }, { leverArmMm: null }, null, [mm(300), null])
    expectDifference('description_version', { descriptionVersion: 2 }, { descriptionVersion: 3 }, 1, ['2', '3'])
    expectDifference('description_version', { descriptionVersion: 2 }, { descriptionVersion: null }, null, ['2', null])
  })

  it('words: the same, another, or unknown', () => {
    expectDifference('hands', { hands: 'holding_handles' }, { hands: 'holding_handles' }, 0)
    expectDifference('hands', { hands: 'holding_handles' }, { hands: 'crossed' }, 1)
    expectDifference('hands', { hands: 'holding_handles' }, { hands: null }, null, ['holding_handles', null])
    expectDifference('hands', { hands: null }, { hands: null }, null)
  })

  it('clocks: the short way round, in hours', () => {
    const at = (hours: number, minutes = 0) => ({ startMinuteOfDay: 60 * hours + minutes })
    expectDifference('start_time_of_day', at(9, 5), at(12, 35), 3.5, ['09:05', '12:35'])
    expectDifference('start_time_of_day', at(23), at(1), 2, ['23:00', '01:00'])
    expectDifference('start_time_of_day', at(0), { startMinuteOfDay: null }, null, ['00:00', null])
  })

  it('machines: the same, another of the family, another family, or nobody knows', () => {
    const machine = (dynamometerId: string | null, deviceFamily: string | null) => ({ dynamometerId, deviceFamily })
    expectDifference('dynamometer', machine('a', null), machine('a', null), 0, ['a', 'a'])
    expectDifference('dynamometer', machine('a', 'x'), machine('b', 'x'), 1, ['a', 'b'])
    expectDifference('dynamometer', machine('a', 'x'), machine('b', 'y'), 2)
    expectDifference('dynamometer', machine('a', 'x'), machine('b', null), null, ['a', 'b'])
    expectDifference('dynamometer', machine('a', 'x'), machine(null, 'x'), null, ['a', null])
    expectDifference('dynamometer', machine(null, 'x'), machine(null, 'x'), null)
  })

  it('thigh strap and familiarisation: none against any weighs double', () => {
    const strap = (thighStrap: string | null) => ({ thighStrap }) as Facts
    expectDifference('thigh_strap', strap('firm'), strap('firm'), 0, ['firm', 'firm'])
    expectDifference('thigh_strap', strap('firm'), strap('light'), 1, ['firm', 'light'])
    expectDifference('thigh_strap', strap('firm'), strap('none'), 2)
    expectDifference('thigh_strap', strap('firm'), strap(null), null, ['firm', null])
    expectDifference('thigh_strap', strap('none'), strap(null), null)
    const before = (familiarisation: string | null) => ({ familiarisation }) as Facts
    expectDifference('familiarisation', before('none'), before('none'), 0, ['none', 'none'])
    expectDifference('familiarisation', before('same_session'), before('earlier_session'), 1)
    expectDifference('familiarisation', before('none'), before('earlier_session'), 2, ['none', 'earlier_session'])
    expectDifference('familiarisation', before('none'), before(null), null, ['none', null])
  })

  it('range of motion: by the start, the end or the length, whichever differs most', () => {
    const between = (firstDeg: number, secondDeg: number) => ({ stops: { firstDeg, secondDeg } })
    expectDifference('range_of_motion', between(5, 95), between(5, 95), 0, ['5 to 95 deg', '5 to 95 deg'])
    expectDifference('range_of_motion', between(5, 95), between(9, 95), 4)
    expectDifference('range_of_motion', between(5, 95), between(5, 92), 3)
    expectDifference('range_of_motion', between(5, 95), between(9, 91), 8, ['5 to 95 deg', '9 to 91 deg'])
    expectDifference('range_of_motion', between(5, 95), between(8, 98), 3)
    expectDifference('range_of_motion', between(5.04, 95), between(-0.04, 95), 5.08, ['5 to 95 deg', '0 to 95 deg'])
    for (const [first, second] of [
      [NaN, 95],
      [5, NaN],
    ] as const) {
      expectDifference('range_of_motion', between(5, 95), between(first, second), null, ['5 to 95 deg', null])
    }
    expectDifference('range_of_motion', between(5, 95), { stops: null }, null, ['5 to 95 deg', null])
  })

  it('anatomical zero: void once something was moved, unknown where nobody says', () => {
    const zero = (readingDeg: number | null, afterLastAdjustment: 'yes' | 'no' | 'unknown') =>
      ({ anatomicalZero: { readingDeg, afterLastAdjustment } }) as Facts
    const deg = (value: number) => ({ value, unit: 'deg' })
    const VOID = 'void: something was moved afterwards'
    expectDifference('anatomical_zero', zero(0, 'yes'), zero(4, 'yes'), 4, [deg(0), deg(4)])
    expectDifference('anatomical_zero', zero(0, 'yes'), zero(4, 'no'), null, [deg(0), VOID])
    expectDifference('anatomical_zero', zero(0, 'yes'), zero(4, 'unknown'), null, [deg(0), null])
    expectDifference('anatomical_zero', zero(0, 'yes'), { anatomicalZero: null }, null, [deg(0), null])
    expect(zeroReading({ ...KNOWN_FACTS, ...zero(4, 'yes') })).toBe(4)
    expect(zeroReading({ ...KNOWN_FACTS, ...zero(4, 'no') })).toBeNull()
    expect(zeroReading({ ...KNOWN_FACTS, anatomicalZero: null })).toBeNull()
  })

  it('rest: by how much the shorter of two unequal ones falls below a minute', () => {
    const rest = (restBeforeS: number | null) => ({ restBeforeS })
    const s = (value: number) => ({ value, unit: 's' })
    expectDifference('rest_before', rest(45), rest(120), 15, [s(45), s(120)])
    expectDifference('rest_before', rest(30), rest(30), 0)
    expectDifference('rest_before', rest(60), rest(120), 0)
    expectDifference('rest_before', rest(45), rest(null), null, [s(45), null])
    expectDifference('rest_before', rest(null), rest(null), null)
  })

  it('pain: the worse of the two; one score above 3 is enough, one at 3 is not', () => {
    const pain = (painDuring: number | null) => ({ painDuring })
    const score = (value: number) => ({ value, unit: '{score}' })
    expectDifference('pain_during', pain(2), pain(3), 3, [score(2), score(3)])
    expectDifference('pain_during', pain(4), pain(null), 4, [score(4), null])
    expectDifference('pain_during', pain(3), pain(null), null, [score(3), null])
    expectDifference('pain_during', pain(null), pain(null), null, [null, null])
  })

  it('axis: measured offsets in mm where they are known well enough, for the seated knee', () => {
    const axis = (forwardMm: number, upMm: number, halfWidthMm: number) =>
      ({ axis: { padTravel: null, offset: { forwardMm, upMm, halfWidthMm } } }) as Facts
    const words = (text: string) => expect.stringContaining(text) as unknown
    expectDifference('axis_offset', axis(3, 4, 6), axis(0, 0, 8), 5, [
      'forward 3.0 mm, up 4.0 mm, each known to 6.0 mm',
      words('known to 8.0 mm'),
    ])
    // root of 6 squared and 8 squared: 10 is still well enough
    expectDifference('axis_offset', axis(3, 4, 6.1), axis(0, 0, 8), null)
    expectDifference('axis_offset', axis(3, 4, NaN), axis(0, 0, 8), null, [null, words('up 0.0 mm')])
    expectDifference('axis_offset', axis(NaN, 4, 6), axis(0, 0, 8), null, [null, words('up 0.0 mm')])
    expect(difference('axis_offset', { axis: null }, { axis: null }).factor).toBe('axis_check_missing')
    expect(difference('axis_offset', { axis: null }, {}).factor).toBe('axis_check_missing_on_one_side')
    const known = axis(3, 4, 1)
    const other = axis(0, 0, 1)
    expectDifference('axis_offset', { ...known, bodyPosition: null }, other, 5)
    for (const elsewhere of [{ joint: 'hip' }, { bodyPosition: 'prone' }] as Facts[]) {
      expectDifference('axis_offset', { ...known, ...elsewhere }, other, null)
      expectDifference('axis_offset', { ...known, ...elsewhere }, { ...other, ...elsewhere }, null)
    }
  })

  it('axis: elsewhere the eye alone, which tells only that nothing moved much', () => {
    const seen = (padTravel: 'none' | 'slight' | 'clear' | null) =>
      ({ joint: 'hip', axis: { padTravel, offset: null } }) as Facts
    expectDifference('axis_offset', seen('none'), seen('slight'), 0, ['pad travel none', 'pad travel slight'])
    expectDifference('axis_offset', seen('none'), seen('clear'), null, ['pad travel none', 'pad travel clear'])
    expectDifference('axis_offset', seen('none'), seen(null), null, ['pad travel none', null])
  })

  it('a setting of the clinic is judged setting by setting, never as one rule', () => {
    expect(() => difference('backrest_angle', {}, {})).toThrow('a setting rule is judged setting by setting')
  })
})

describe('how far apart two settings are, in both orders', () => {
  type Value = SettingFact['value']
  function expectSettings(before: Value, now: Value, size: number | null, words?: readonly unknown[]) {
    const there = settingDifference(setting('x', before), setting('x', now))
    const back = settingDifference(setting('x', now), setting('x', before))
    expect(there.size === null ? null : Math.round(1e9 * there.size) / 1e9).toBe(size)
    expect(back.size === null).toBe(size === null)
    expect([back.now, back.before]).toEqual([there.before, there.now])
    if (words !== undefined) expect([there.before, there.now]).toEqual(words)
  }
  const cm = (value: number): Value => ({ kind: 'quantity', value, unit: 'cm' })
  const mm = (value: number): Value => ({ kind: 'quantity', value, unit: 'mm' })
  const mark = (text: string, position: number | null, scale = 'seat rail'): Value => ({
    kind: 'scale_mark',
    scale,
    mark: text,
    position,
  })
  const choice = (word: string): Value => ({ kind: 'choice', choice: word })
  const on = (value: boolean): Value => ({ kind: 'boolean', on: value })

  it('quantities: in the unit of the first, if they are of one kind', () => {
    expectSettings(cm(42), cm(40), 2, [
      { value: 42, unit: 'cm' },
      { value: 40, unit: 'cm' },
    ])
    expectSettings(cm(42), mm(400), 2)
    expect(settingDifference(setting('x', mm(400)), setting('x', cm(42))).size).toBeCloseTo(20, 9)
    expectSettings(cm(42), { kind: 'quantity', value: 42, unit: 'deg' }, null)
    // units nobody knows are the same only by their name
    const notches = (value: number, unit = '{notch}'): Value => ({ kind: 'quantity', value, unit })
    expectSettings(notches(3), notches(5), 2)
    expectSettings(notches(3), notches(3, '{hole}'), null)
    expectSettings(cm(42), cm(NaN), null, [{ value: 42, unit: 'cm' }, null])
    expectSettings(cm(42), null, null, [{ value: 42, unit: 'cm' }, null])
    expect(settingDifference(undefined, setting('x', cm(1)))).toEqual({
      size: null,
      before: null,
      now: { value: 1, unit: 'cm' },
    })
  })

  it('marks: by their position, else by being the same, on one scale only', () => {
    expectSettings(mark('C', 3), mark('E', 5.5), 2.5, ['seat rail: C', 'seat rail: E'])
    expectSettings(mark('C', null), mark('C', 3), 0, ['seat rail: C', 'seat rail: C'])
    expectSettings(mark('C', null), mark('E', 5), 1, ['seat rail: C', 'seat rail: E'])
    expectSettings(mark('C', null), mark('E', null), 1)
    expectSettings(mark('C', 3), mark('C', 3, 'other rail'), null, ['seat rail: C', 'other rail: C'])
  })

  it('choices and switches: the same or another', () => {
    expectSettings(choice('soft'), choice('soft'), 0, ['soft', 'soft'])
    expectSettings(choice('soft'), choice('hard'), 1, ['soft', 'hard'])
    expectSettings(on(true), on(true), 0, ['yes', 'yes'])
    expectSettings(on(true), on(false), 1, ['yes', 'no'])
  })

  it('values of two kinds: unknown', () => {
    const values = [cm(1), mark('1', 1), choice('1'), on(true)]
    values.forEach((one, i) => {
      values.forEach((other, j) => {
        if (i !== j) expectSettings(one, other, null)
      })
    })
  })
})

describe('settings in a comparison', () => {
  const withSettings = (...settings: SettingFact[]): ComparabilityFacts => ({ ...KNOWN_FACTS, settings })
  const cm = (key: string, value: number, more: Partial<SettingFact> = {}) =>
    setting(key, { kind: 'quantity', value, unit: 'cm' }, more)

  it('in another unit than the rule are judged in the rule’s, and are unknown in a unit of another kind', () => {
    const backrest = (value: number, unit: string) =>
      withSettings(setting('backrestAngle', { kind: 'quantity', value, unit }, { tolerance: 1000 }))
    const verdict = (a: ComparabilityFacts, b: ComparabilityFacts) => compareFacts(a, b, 'peakTorque').verdict
    const rad = (deg: number) => (deg * Math.PI) / 180
    expect(verdict(backrest(rad(80), 'rad'), backrest(rad(84), 'rad'))).toBe('comparable')
    expect(verdict(backrest(rad(80), 'rad'), backrest(rad(87), 'rad'))).toBe('comparable_with_caution')
    expect(verdict(backrest(rad(80), 'rad'), backrest(rad(96), 'rad'))).toBe('not_comparable')
    expect(verdict(backrest(80, 'cm'), backrest(81, 'cm'))).toBe('not_assessable')
    expect(verdict(backrest(80, '{notch}'), backrest(81, '{notch}'))).toBe('not_assessable')
    expect(verdict(backrest(80, 'cm'), backrest(80, 'cm'))).toBe('comparable')
  })

  it('follow the gravest of rule and description, of either test', () => {
    const backrest = (value: number, more: Partial<SettingFact>) =>
      withSettings(setting('backrestAngle', { kind: 'quantity', value, unit: 'deg' }, more))
    const strict = { tolerance: 2, effectBeyondTolerance: 'not_comparable' } as const
    const loose = { tolerance: 40, effectBeyondTolerance: 'note' } as const
    const reasons = (a: ComparabilityFacts, b: ComparabilityFacts) =>
      compareFacts(a, b, 'peakTorque').reasons.map(({ effect, source, tolerance }) => [effect, source, tolerance])
    const clinics = [['not_comparable', "the clinic's own description of its machine", { value: 2, unit: 'deg' }]]
    expect(reasons(backrest(80, strict), backrest(87, loose))).toEqual(clinics)
    expect(reasons(backrest(80, loose), backrest(87, strict))).toEqual(clinics)
    expect(reasons(backrest(80, loose), backrest(87, loose))).toEqual([
      ['caution', 'Sports Med Open 2021 7: s40798-021-00330-w', { value: 5, unit: 'deg' }],
    ])
  })

  it('belong together by their factor, and by their key where two dials share one factor', () => {
    const dial = (key: string, value: number) => cm(key, value, { factor: 'seat_depth' })
    const factors = (a: ComparabilityFacts, b: ComparabilityFacts) =>
      compareFacts(a, b, 'peakTorque').reasons.map(({ factor, before, now }) => [factor, before, now])
    expect(factors(withSettings(dial('depth', 40)), withSettings(dial('depthDial', 45)))).toEqual([
      ['seat_depth', { value: 40, unit: 'cm' }, { value: 45, unit: 'cm' }],
    ])
    const two = (left: number, right: number) => withSettings(dial('left', left), dial('right', right))
    expect(factors(two(40, 50), two(40, 55))).toEqual([
      ['seat_depth', { value: 50, unit: 'cm' }, { value: 55, unit: 'cm' }],
    ])
    // a setting by itself keeps its own words even where another factor is used twice
    const third = (value: number) => cm('footHeight', value)
    expect(
      factors(
        withSettings(dial('left', 40), dial('right', 50), third(9)),
        withSettings(dial('left', 40), dial('right', 50), cm('plate', 12, { factor: 'foot_height' })),
      ),
    ).toEqual([['foot_height', { value: 9, unit: 'cm' }, { value: 12, unit: 'cm' }]])
  })

  it('are mirrored between limbs as the clinic describes each', () => {
    const limbs = (left: SettingFact, right: SettingFact) =>
      compareLimbs(
        { ...withSettings(left), side: 'left' },
        { ...withSettings(right), side: 'right' },
        'peakTorque',
      ).reasons.filter(({ factor }) => factor === 'tilt')
    const tilt = (value: SettingFact['value'], mirror: SettingFact['mirror']) =>
      setting('tilt', value, { mirror, tolerance: 0 })
    const deg = (value: number) => ({ kind: 'quantity', value, unit: 'deg' }) as const
    const mark = (scale: string, text: string) =>
      ({ kind: 'scale_mark', scale, mark: text, position: null }) as SettingFact['value']
    const word = (choice: string) => ({ kind: 'choice', choice }) as const
    expect(limbs(tilt(deg(7), 'negated'), tilt(deg(-7), 'negated'))).toEqual([])
    expect(limbs(tilt(deg(7), 'negated'), tilt(deg(7), 'negated'))).toHaveLength(1)
    expect(limbs(tilt(deg(7), 'same'), tilt(deg(7), 'same'))).toEqual([])
    expect(limbs(tilt(deg(7), 'own_value'), tilt(deg(40), 'own_value'))).toEqual([])
    expect(limbs(tilt(word('a'), 'negated'), tilt(word('a'), 'negated'))).toEqual([])
    const other = 'same_mark_on_other_scale'
    expect(limbs(tilt(mark('l', '3'), other), tilt(mark('r', '3'), other))).toEqual([])
    expect(limbs(tilt(mark('l', '3'), other), tilt(mark('r', '5'), other))).toHaveLength(1)
    expect(limbs(tilt(mark('l', '3'), 'same'), tilt(mark('r', '3'), 'same'))).toHaveLength(1)
    expect(limbs(tilt(deg(7), other), tilt(mark('r', '7'), other))).toHaveLength(1)
    expect(limbs(tilt(mark('l', '3'), other), tilt(deg(3), other))).toHaveLength(1)
    expect(limbs(tilt(null, 'negated'), tilt(deg(7), 'negated'))).toHaveLength(1)
    const alone = compareLimbs(
      { ...withSettings(tilt(mark('l', '3'), other)), side: 'left' },
      { ...withSettings(), side: 'right' },
      'peakTorque',
    )
    expect(alone.reasons.filter(({ factor }) => factor === 'tilt')).toHaveLength(1)
  })
})

describe('fully known facts', () => {
  it('are those in which no rule finds anything unknown', () => {
    expect(isFullyKnown(KNOWN_FACTS)).toBe(true)
    const holes: Facts[] = [
      { hands: null },
      { leverArmMm: NaN },
      { stops: null },
      { stops: { firstDeg: NaN, secondDeg: 95 } },
      { stops: { firstDeg: 5, secondDeg: NaN } },
      { axis: null },
      { anatomicalZero: null },
      { settings: [setting('x', null)] },
      { settings: [setting('x', { kind: 'quantity', value: NaN, unit: 'cm' })] },
    ]
    for (const hole of holes) expect(isFullyKnown({ ...KNOWN_FACTS, ...hole })).toBe(false)
    expect(isFullyKnown({ ...KNOWN_FACTS, deviceFamily: null })).toBe(true)
    expect(isFullyKnown({ ...KNOWN_FACTS, settings: [setting('x', { kind: 'boolean', on: false })] })).toBe(true)
  })
})

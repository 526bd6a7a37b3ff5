import { describe, expect, it } from 'vitest'
import {
  screenAngleRange,
  screenBodyMass,
  screenImpossible,
  screenPain,
  screenSeatDepth,
  screenSideSwap,
  screenUnitErrors,
} from '../../../src/compute/hazards/index.ts'
import type { BothLimbs, SideSwapInput, TorqueAgainstHistory } from '../../../src/compute/hazards/index.ts'

/** The screens exactly at their limits, and every finding whole: what is flagged, why, and with which numbers. */
const POUND = 2.2046226218487757

describe('a finding says what, where and with which numbers', () => {
  it('for pain', () => {
    expect(screenPain(4, 't')).toEqual({
      code: 'pain_limited',
      level: 'hold',
      targets: ['t'],
      message: 'Pain of 4/10 during the test: the values do not show the strength of the muscle.',
      evidence: { painDuring: 4 },
    })
    expect(screenPain(null, 't')).toEqual({
      code: 'pain_not_recorded',
      level: 'caution',
      targets: ['t'],
      message: 'Pain during the test is not recorded.',
      evidence: {},
    })
    expect(screenPain(10, 't')?.code).toBe('pain_limited')
    expect(screenPain(10.5, 't')).toEqual({
      code: 'impossible_value',
      level: 'hold',
      targets: ['t'],
      message: 'pain of 10.5 lies outside 0 to 10 {score}.',
      evidence: { value: 10.5, low: 0, high: 10, unit: '{score}' },
    })
  })

  it('for an impossible value', () => {
    expect(screenImpossible('torque_per_body_mass', 11, 't')).toEqual({
      code: 'impossible_value',
      level: 'hold',
      targets: ['t'],
      message: 'torque per body mass of 11 lies outside 0 to 10 N.m/kg.',
      evidence: { value: 11, low: 0, high: 10, unit: 'N.m/kg' },
    })
  })

  it('for a body mass', () => {
    expect(screenBodyMass(150, 68, 't')).toEqual({
      code: 'possible_unit_error',
      level: 'hold',
      targets: ['t'],
      message: '150 kg is 2.206 of the last body mass 68 kg: was it pounds sent as kilograms?',
      evidence: { massKg: 150, lastMassKg: 68, ratio: 150 / 68, factor: POUND },
    })
    expect(screenBodyMass(72, 68.4, 't')).toEqual({
      code: 'body_mass_changed',
      level: 'note',
      targets: ['t'],
      message: 'Body mass changed by 5.263 % since the last session: values per kilogram move with it.',
      evidence: { massKg: 72, lastMassKg: 68.4, changePct: 100 * (72 / 68.4 - 1) },
    })
  })

  it('for an angle', () => {
    expect(screenAngleRange(1.5, 90, 't')).toEqual({
      code: 'possible_unit_error',
      level: 'hold',
      targets: ['t'],
      message: 'The limb moved through 1.5 deg of 90 deg between the stops: was it radians sent as degrees?',
      evidence: { movedDeg: 1.5, plannedDeg: 90, ratio: 1.5 / 90 },
    })
    expect(screenAngleRange(59, 90, 't')).toEqual({
      code: 'angle_range_differs',
      level: 'caution',
      targets: ['t'],
      message: 'The limb moved through 59 deg of 90 deg between the stops.',
      evidence: { movedDeg: 59, plannedDeg: 90, ratio: 59 / 90 },
    })
    expect(screenAngleRange(-5, 90, 't')).toEqual({
      code: 'impossible_value',
      level: 'hold',
      targets: ['t'],
      message: 'angle of -5 lies outside 0 to 360 deg.',
      evidence: { value: -5, low: 0, high: 360, unit: 'deg' },
    })
  })

  it('for a seat', () => {
    expect(screenSeatDepth(1.5, 95, 't')).toEqual({
      code: 'seat_depth_gap',
      level: 'caution',
      targets: ['t'],
      message:
        'A gap of 1.5 cm between calf and seat edge is less than about two fingers (3 cm): the seat may press into the calf.',
      evidence: { calfToSeatGapCm: 1.5, plannedFlexionDeg: 95 },
    })
    expect(screenSeatDepth(3.5, 101, 't')?.message).toBe(
      'Flexion of 101 deg is more than the 100 deg for which two fingers are usually enough: the seat may press into the calf.',
    )
  })
})

describe('exactly at a limit', () => {
  it('a body mass 5 % from the last, or 5 % from the pound, counts as the same', () => {
    expect(screenBodyMass(105, 100, 't')).toBeNull()
    expect(screenBodyMass(95, 100, 't')).toBeNull()
    expect(screenBodyMass(105.01, 100, 't')?.code).toBe('body_mass_changed')
    expect(screenBodyMass(100 * POUND * 1.049, 100, 't')?.code).toBe('possible_unit_error')
    expect(screenBodyMass(100 * POUND * 1.051, 100, 't')?.code).toBe('body_mass_changed')
    expect(screenBodyMass((100 / POUND) * 0.949, 100, 't')?.code).toBe('body_mass_changed')
  })

  it('a last mass of nought, or a mass below, is judged by what is possible alone', () => {
    expect(screenBodyMass(70, 0, 't')).toBeNull()
    expect(screenBodyMass(70, -5, 't')).toBeNull()
    expect(screenBodyMass(0, 70, 't')?.code).toBe('impossible_value')
    expect(screenBodyMass(-70 / POUND, 70, 't')?.code).toBe('impossible_value')
    expect(screenBodyMass(-70 / POUND, -70, 't')?.code).toBe('impossible_value')
  })

  it('a thirtieth and thirty times the range are far from the stops, beyond it another unit', () => {
    expect(screenAngleRange(3, 90, 't')?.code).toBe('angle_range_differs')
    expect(screenAngleRange(2.9, 90, 't')?.code).toBe('possible_unit_error')
    expect(screenAngleRange(2700, 90, 't')?.code).toBe('angle_range_differs')
    expect(screenAngleRange(2701, 90, 't')?.message).toContain('degrees sent as radians')
    expect(screenAngleRange(100, 90, 't')).toBeNull()
    expect(screenAngleRange(100.1, 90, 't')?.code).toBe('angle_range_differs')
    expect(screenAngleRange(20, 40, 't')).toBeNull()
    expect(screenAngleRange(19.9, 40, 't')?.code).toBe('angle_range_differs')
  })

  it('a seat gap or an angle that nobody wrote down, or that is no number, says nothing', () => {
    for (const [gap, angle] of [
      [null, 120],
      [1, null],
      [Number.NaN, 120],
      [1, Number.NaN],
      [1, Infinity],
    ] as const) {
      expect(screenSeatDepth(gap, angle, 't'), `${gap} ${angle}`).toBeNull()
    }
  })
})

const both = (leftNow: number, rightNow: number, leftHistory: number, rightHistory: number): BothLimbs => ({
  leftNow,
  rightNow,
  leftHistory,
  rightHistory,
})

describe('side swap at its limits', () => {
  const swapped: SideSwapInput = {
    torques: [
      { movement: 'extension', target: 'extension', ...both(130, 172, 170, 125) },
      { movement: 'flexion', target: 'flexion', ...both(80, 101, 100, 78) },
    ],
    signs: [{ name: 'limb weight', tolerance: 0.5, ...both(12.1, 13.3, 13.4, 12) }],
  }
  const withTorques = (row: Partial<BothLimbs>) =>
    screenSideSwap({ ...swapped, torques: swapped.torques.map((torque) => ({ ...torque, ...row })) })
  const withSigns = (...signs: SideSwapInput['signs']) => screenSideSwap({ ...swapped, signs })

  it('says which muscles and which signs speak for it', () => {
    expect(screenSideSwap(swapped)).toEqual({
      code: 'possible_side_swap',
      level: 'hold',
      targets: ['extension', 'flexion'],
      message:
        'In extension and flexion the stronger side is the other one than before, and limb weight agrees with that too: were left and right exchanged?',
      evidence: { agreeing: 'limb weight', movements: 'extension, flexion' },
    })
    const two = withSigns(swapped.signs[0]!, { name: 'pad distance', tolerance: 5, ...both(300, 320, 320, 300) })
    expect(two?.evidence).toEqual({ agreeing: 'limb weight, pad distance', movements: 'extension, flexion' })
  })

  it('wants histories apart by a tenth of the larger, and the stronger side turned over', () => {
    expect(withTorques(both(90, 100, 100, 90))).not.toBeNull()
    expect(withTorques(both(90.1, 100, 100, 90.1))).toBeNull()
    // Equal today is no exchange, and the right side may have been the stronger one before.
    expect(withTorques(both(95, 95, 100, 80))).toBeNull()
    expect(withTorques(both(100, 80, 80, 100))).not.toBeNull()
    expect(withTorques(both(100, 60, 100, 60))).toBeNull()
  })

  it('wants the exchange to fit better than the sides as sent: both limbs having lost is no exchange', () => {
    // 100 / 90 before, 50 / 60 now: turned over, and as far from the history either way.
    expect(withTorques(both(50, 60, 100, 90))).toBeNull()
  })

  it('takes a sign whose sides differ by no more than its tolerance for no sign, nor one that fits both ways', () => {
    const sign = { name: 'setting', ...both(10, 12, 12, 10) }
    expect(withSigns({ ...sign, tolerance: 2 })).toBeNull()
    expect(withSigns({ ...sign, tolerance: 1.9 })).not.toBeNull()
    expect(withSigns({ ...sign, tolerance: -1 })).not.toBeNull()
    expect(withSigns({ name: 'setting', tolerance: -1, ...both(10, 10, 12, 12) })).toBeNull()
    const neither = { name: 'neither', tolerance: 0, ...both(11, 11, 12, 10) }
    expect(withSigns(neither)).toBeNull()
    expect(withSigns(swapped.signs[0]!, neither)?.evidence.agreeing).toBe('limb weight')
  })

  it.each([0, -1, Number.NaN, Infinity])('says nothing where one muscle has a value of %d, or a sign has', (bad) => {
    for (const place of ['leftNow', 'rightNow', 'leftHistory', 'rightHistory'] as const) {
      const [extension, flexion] = swapped.torques
      expect(screenSideSwap({ ...swapped, torques: [extension!, { ...flexion!, [place]: bad }] })).toBeNull()
      const third = { ...extension!, target: 'fast extension', [place]: bad }
      expect(screenSideSwap({ ...swapped, torques: [extension!, flexion!, third] })).toBeNull()
      expect(withSigns({ ...swapped.signs[0]!, [place]: bad })).toBeNull()
    }
  })
})

describe('unit errors at their limits', () => {
  const torque = (change: Partial<TorqueAgainstHistory>): TorqueAgainstHistory => ({
    target: 'fast',
    origin: 'reported',
    side: 'left',
    movement: 'extension',
    velocityDegS: 180,
    torqueNm: 100,
    historyNm: [100, 100],
    leverArmM: null,
    ...change,
  })
  const FOOT_POUND = 1.3558179483314004
  const suspicious = torque({ torqueNm: 100 / FOOT_POUND })
  const slow = (change: Partial<TorqueAgainstHistory> = {}) => torque({ target: 'slow', velocityDegS: 60, ...change })
  const flagged = (...torques: readonly TorqueAgainstHistory[]) =>
    screenUnitErrors(torques).flatMap(({ targets }) => targets)

  it('one value is asked about only beside another of the same limb and movement that has not moved', () => {
    expect(flagged(suspicious, slow())).toEqual(['fast'])
    expect(flagged(suspicious)).toEqual([])
    expect(flagged(suspicious, slow({ movement: 'flexion' }))).toEqual([])
    expect(flagged(suspicious, slow({ side: 'right' }))).toEqual([])
    for (const [torqueNm, found] of [
      [115, true],
      [115.1, false],
      [85, true],
      [84.9, false],
    ] as const) {
      expect(flagged(suspicious, slow({ torqueNm })), String(torqueNm)).toEqual(found ? ['fast'] : [])
    }
  })

  it('a rise is asked about only where no muscle rises so much', () => {
    expect(flagged(torque({ torqueNm: 100 * FOOT_POUND }), slow())).toEqual([])
    expect(flagged(torque({ torqueNm: 100 * POUND }), slow())).toEqual(['fast'])
    expect(flagged(torque({ torqueNm: 100 / POUND }), slow())).toEqual(['fast'])
  })

  it('a single value needs two earlier ones that are torques', () => {
    expect(flagged({ ...suspicious, historyNm: [100] }, slow())).toEqual([])
    expect(flagged({ ...suspicious, historyNm: [100, 0] }, slow())).toEqual([])
    expect(flagged({ ...suspicious, historyNm: [100, Number.NaN, Infinity, -3] }, slow())).toEqual([])
    expect(flagged({ ...suspicious, historyNm: [100, 0, 100] }, slow())).toEqual(['fast'])
    for (const none of [0, -50, Infinity]) {
      expect(flagged({ ...suspicious, historyNm: [100, none, none, 100, none] }, slow()), String(none)).toEqual([
        'fast',
      ])
    }
  })

  it('the median is that of the sorted history, between the middle two where their number is even', () => {
    const median = (historyNm: number[]) =>
      screenUnitErrors([torque({ torqueNm: 1000 / FOOT_POUND, historyNm }), slow()])[0]?.evidence.medianNm
    expect(median([1020, 990, 1000])).toBe(1000)
    expect(median([1030, 990, 1010, 1000])).toBe(1005)
    expect(median([9, 1000, 1000, 1000, 1100])).toBe(1000)
  })

  it('a document is asked about by its own lever arms, and only where every torque shares the mistake', () => {
    const sent = (side: 'left' | 'right', leverArmM: number | null, factor: number) =>
      torque({ target: side, side, leverArmM, torqueNm: 100 * factor })
    expect(flagged(sent('left', 0.2, 5), sent('right', 0.25, 4))).toEqual(['left', 'right'])
    expect(flagged(sent('left', 0.2, 5), sent('right', null, 4))).toEqual([])
    expect(flagged(sent('left', null, 5), sent('right', 0.25, 4))).toEqual([])
    expect(flagged(sent('left', 0.2, 5), sent('right', 0.25, 5))).toEqual([])
    expect(() => flagged(sent('left', -0.2, 5))).toThrow('a lever arm must be positive')
  })

  it('of two mistakes that would explain it, the nearer one is asked about, whichever comes first', () => {
    const at = (factor: number) =>
      screenUnitErrors([
        torque({ torqueNm: 100 * factor }),
        torque({ target: 'other', side: 'right', torqueNm: 100 * factor }),
      ])[0]?.message
    expect(at(9.2)).toContain('inch-pounds sent as N.m')
    expect(at(9.4)).toContain('kilogram-force')
    expect(at(1 / 9.2)).toContain('newton metres sent as inch-pounds')
    expect(at(1 / 9.4)).toContain('kilogram-force metres sent as N.m')
    // With an arm of 0.45 m a newton is 2.22 N.m, next to the pound's 2.20.
    const onArm = (factor: number) =>
      screenUnitErrors(
        (['left', 'right'] as const).map((side) =>
          torque({ target: side, side, leverArmM: 0.45, torqueNm: 100 * factor }),
        ),
      )[0]?.message
    expect(onArm(2.205)).toContain('pounds taken for kilograms')
    expect(onArm(2.222)).toContain('newtons sent as N.m')
    expect(onArm(1 / 2.205)).toContain('kilograms taken for pounds')
    expect(onArm(1 / 2.222)).toContain('newton metres sent as newtons')
  })

  it('a torque of nought or below is not judged', () => {
    expect(flagged(torque({ torqueNm: 0 }), slow())).toEqual([])
    expect(flagged(torque({ torqueNm: -100 / FOOT_POUND, historyNm: [100, 100] }), slow())).toEqual([])
    expect(flagged(torque({ torqueNm: Infinity }), slow())).toEqual([])
    // Nor does it keep a document from being asked about.
    const wrong = (['left', 'right'] as const).map((side) => torque({ target: side, side, torqueNm: 100 / FOOT_POUND }))
    for (const torqueNm of [0, -3, Number.NaN, Infinity]) {
      expect(flagged(...wrong, slow({ torqueNm }))).toEqual(['left', 'right'])
    }
    expect(flagged(...wrong, slow({ historyNm: [] }))).toEqual(['left', 'right'])
  })
})

import { beforeAll, describe, expect, it } from 'vitest'
import type { LooseDocument } from '../../fixtures/example-session.ts'
import { freshClinic, makeTestService, type Api, type FreshClinic } from '../../harness/clinic.ts'
import { testDatabase } from '../../harness/test-database.ts'

const service = await makeTestService(await testDatabase())
let clinic: FreshClinic
let api: Api
beforeAll(async () => {
  clinic = await freshClinic(service)
  api = service.api(clinic.tokens.assistant)
})
const calculate = (what: string, body: unknown) => api.post(`/v1/calculations/${what}`, body, { key: null })

/** Exact pad positions from the knee axis for an offset of (x, y) mm on an arm of so many mm, by the geometry written out anew. */
function positions(x: number, y: number, angles: readonly number[], begin = 0, arm = 300) {
  return angles.map((degrees) => {
    const b = (degrees * Math.PI) / 180
    const e = Math.asin((x * Math.sin(b) + y * Math.cos(b)) / arm)
    const s = arm * Math.cos(e) - (x * Math.cos(b) - y * Math.sin(b))
    return { angle: { value: degrees, unit: 'deg' }, position: { value: s - begin, unit: 'mm' } }
  })
}
const millimetres = (value: number) => ({ value, unit: 'mm' })
const question = (padPositions: object[], more: object = {}) => ({
  side: 'right',
  padMountedOn: 'arm',
  padDistance: millimetres(300),
  readingsBeginAt: millimetres(0),
  readingError: millimetres(1),
  padPositions,
  ...more,
})

describe('the axis offset', () => {
  it.each([
    [20, -20],
    [12, 5],
    [0, 0],
    [-20, 0],
  ])('of (%d, %d) mm is found again from exact positions at 90, 45 and 0 deg', async (x, y) => {
    const unknownArm = { ...question(positions(x, y, [90, 45, 0])), padDistance: undefined }
    for (const body of [question(positions(x, y, [90, 45, 0])), unknownArm]) {
      const { offset } = (await calculate('axis-offset', body)).body
      // Solved to 1e-9 mm; JSON carries binary64
      expect(offset.forward.value).toBeCloseTo(x, 6)
      expect(offset.up.value).toBeCloseTo(y, 6)
    }
  })

  it('tells torque and angle errors over the range: 20 mm forward on 300 mm, by the published geometry', async () => {
    const { errors } = (await calculate('axis-offset', question(positions(20, 0, [90, 60, 30, 0])))).body
    const at = (degrees: number) => errors.byAngle.find((point: LooseDocument) => point.angle.value === degrees)
    // Pad distance mm, angle error deg, torque ratio: the worked table, printed to 2, 3 and 5 decimals
    for (const [degrees, s, e, ratio] of [
      [90, 299.33, 3.823, 1],
      [60, 289.5, 3.31, 1.03454],
      [30, 282.51, 1.91, 1.06131],
      [0, 280, 0, 1.07143],
    ] as const) {
      expect(at(degrees).padDistance.value).toBeCloseTo(s, 2)
      expect(at(degrees).angleError.value).toBeCloseTo(e, 3)
      expect(at(degrees).torqueRatio).toBeCloseTo(ratio, 5)
    }
    expect(errors.largestTorqueError.value).toBeCloseTo(7.143, 3)
    expect(errors.largestAngleError.value).toBeCloseTo(3.823, 3)
  })

  it.each([
    // Forward, up, arm in mm; angle, pad distance, angle error, torque ratio as printed; null: not printed
    [0, -20, 300, 90, 280, 0, 1.07143],
    [0, -20, 300, 0, 299.33, -3.823, 1],
    [20, -20, 300, 45, 271.72, 0, 1.1041],
    [-20, 0, 300, 0, 320, 0, 0.9375],
    [10, 0, 300, 0, 290, 0, 1.03448],
    [40, 0, 400, 0, null, 0, 1.11111],
    [40, 0, 400, 90, null, 5.739, 1],
  ] as const)(
    'of (%d, %d) mm on an arm of %d mm is, at %d deg, what the table says',
    async (x, y, arm, degrees, s, e, ratio) => {
      const readings = positions(x, y, [90, 70, 45, 20, 0], 0, arm)
      const { errors } = (await calculate('axis-offset', question(readings, { padDistance: millimetres(arm) }))).body
      const at = errors.byAngle.find((point: LooseDocument) => point.angle.value === degrees)
      if (s !== null) expect(at.padDistance.value).toBeCloseTo(s, 2)
      expect(at.angleError.value).toBeCloseTo(e, 3)
      expect(at.torqueRatio).toBeCloseTo(ratio, 5)
    },
  )

  it('of 20 mm forward with the pad on the shin, 300 mm from the knee, moves it along the arm as the table says', async () => {
    // Pad distance mm and torque ratio, printed to 2 and 5 decimals
    const TABLE = [[90, 300.67, 1.00444], [60, 310.48, 1.03656], [30, 317.48, 1.05879], [0, 320, 1.06667]] as const // prettier-ignore
    const readings = TABLE.map(([degrees]) => {
      const b = (degrees * Math.PI) / 180
      return { angle: { value: degrees, unit: 'deg' }, position: millimetres(Math.hypot(20 + 300 * Math.cos(b), 300 * Math.sin(b))) } // prettier-ignore
    })
    const { offset, errors } = (await calculate('axis-offset', question(readings, { padMountedOn: 'shin' }))).body
    expect([offset.forward.value, offset.up.value].map((mm: number) => Math.round(mm * 1e6) / 1e6 + 0)).toEqual([20, 0])
    for (const [degrees, distance, ratio] of TABLE) {
      const at = errors.byAngle.find((point: LooseDocument) => point.angle.value === degrees)
      expect(at.padDistance.value).toBeCloseTo(distance, 2)
      expect(at.torqueRatio).toBeCloseTo(ratio, 5)
    }
  })

  it.each([
    // What is unknown; SD of one reading and 95 % half width in mm: 9.1 x 1.96, 2.6 x 1.96 and 3.0 x 1.96 (numpy)
    ['the arm', { padDistance: undefined }, 3, 17.9],
    ['nothing', {}, 3, 5.2],
    ['where the readings begin', { readingsBeginAt: undefined }, 1, 6],
  ])(
    'from readings at 90, 45 and 0 deg, where %s is unknown, is known no better than they are read',
    async (_, unknown, sd, halfWidth) => {
      const readings = positions(0, 0, [90, 45, 0])
      const { body } = await calculate('axis-offset', question(readings, { readingError: millimetres(sd), ...unknown }))
      expect(Math.abs(body.offset.forward.halfWidth.value - halfWidth)).toBeLessThan(0.15)
      expect(Math.abs(body.offset.up.halfWidth.value - halfWidth)).toBeLessThan(0.15)
    },
  )

  it.each([
    ['right', 'left', 'back'],
    ['left', 'right', 'back'],
  ])('beyond tolerance says what to move which way, for the %s limb seat to the %s', async (side, seen, seat) => {
    const { body } = await calculate('axis-offset', question(positions(20, 0, [90, 70, 45, 20, 0]), { side }))
    expect(body.verdict).toBe('beyond_tolerance')
    expect(body.move).toHaveLength(1)
    expect(body.move[0]).toMatchObject({ seat, machine: 'forward', seatSeenFromTheMachine: seen })
    expect(body.move[0].by.value).toBeCloseTo(20, 6)
    expect(body.move[0].inWords).toBe(`Move the seat back (${seen} as seen from the machine's side) by 20 mm, or the machine forward by as much.`) // prettier-ignore
  })

  it('cannot tell where the interval reaches the tolerance, and says how wide it is: about 6 mm from a skin mark', async () => {
    const skinMark = [[90, 212], [45, 210], [0, 211]].map(([angle, position]) => ({ angle: { value: angle, unit: 'deg' }, position: millimetres(position!) })) // prettier-ignore
    const { body } = await calculate('axis-offset', question(skinMark, { readingsBeginAt: undefined }))
    expect(body).toMatchObject({ verdict: 'cannot_tell', reason: 'interval_reaches_tolerance', move: null })
    expect(body.offset.forward.value).toBeCloseTo(4.2, 1)
    expect(body.offset.up.value).toBeCloseTo(-3.2, 1)
    expect(body.offset.forward.halfWidth.value).toBeGreaterThan(5)
    expect(body.offset.forward.halfWidth.value).toBeLessThan(7)
  })

  it('cannot tell (20, -20) from none by two angles, though the pad ends where it began', async () => {
    const { body } = await calculate('axis-offset', question(positions(20, -20, [90, 0]), { readingsBeginAt: undefined })) // prettier-ignore
    expect(body).toMatchObject({ verdict: 'cannot_tell', reason: 'too_few_angles', offset: null, errors: null })
  })

  it('cannot tell without a reading error', async () => {
    const { body } = await calculate('axis-offset', question(positions(0, 0, [90, 45, 0]), { readingError: undefined }))
    expect(body).toMatchObject({ verdict: 'cannot_tell', reason: 'reading_error_unknown' })
  })
})

describe('the limb weight', () => {
  const weighing = { method: 'single_angle', limbAngleBelowHorizontal: { value: 35, unit: 'deg' }, torque: { value: 10.8, unit: 'N.m' }, armTared: 'yes', afterLastAdjustment: 'yes' } // prettier-ignore
  const body = { joint: 'knee', bodyPosition: 'seated', limbWeighing: weighing }

  it('of 10.8 N.m at 35 deg below horizontal is a moment of 13.18 N.m, which that body can have', async () => {
    const answer = await calculate('limb-weight', { ...body, bodyMass: { value: 68.4, unit: 'kg' }, height: { value: 170, unit: 'cm' }, sex: 'female' }) // prettier-ignore
    expect(answer.body.gravityMoment.value).toBeCloseTo(10.8 / Math.cos((35 * Math.PI) / 180), 9)
    expect(answer.body).toMatchObject({ model: 'cosine', plausible: { verdict: 'yes', reason: null }, findings: [] })
    expect(answer.body.plausible.range.low.value).toBeLessThan(13.18)
  })

  it('that no limb of that body has is said to be so', async () => {
    const heavy = { ...weighing, torque: { value: 60, unit: 'N.m' } }
    const { plausible } = (await calculate('limb-weight', { ...body, limbWeighing: heavy, bodyMass: { value: 60, unit: 'kg' }, height: { value: 1.7, unit: 'm' } })).body // prettier-ignore
    expect(plausible).toMatchObject({ verdict: 'no', reason: 'heavier_than_the_limb' })
  })

  it('is void once something was adjusted, and unknown for a body that is not described', async () => {
    const moved = { ...weighing, afterLastAdjustment: 'no' }
    expect((await calculate('limb-weight', { ...body, limbWeighing: moved })).body.gravityMoment).toEqual({ value: null, unit: 'N.m', reason: 'weighed_before_last_adjustment' }) // prettier-ignore
    expect((await calculate('limb-weight', body)).body.plausible).toMatchObject({ verdict: 'unknown', reason: 'body_mass_or_height_missing' }) // prettier-ignore
  })
})

describe('a unit conversion', () => {
  it('is exact: 1 foot-pound is 1.3558179483314004 N.m', async () => {
    const answer = await calculate('unit-conversion', { quantity: { value: 1, unit: '[ft_i].[lbf_av]' }, to: 'N.m' })
    expect(answer.body).toMatchObject({ from: { value: 1, unit: '[ft_i].[lbf_av]' }, to: { value: 1.3558179483314004, unit: 'N.m' }, kind: 'torque' }) // prettier-ignore
  })

  it('between two kinds is refused, and a misspelt unit comes back with the right spelling', async () => {
    const kinds = await calculate('unit-conversion', { quantity: { value: 1, unit: 'N.m' }, to: 'deg' })
    expect([kinds.status, kinds.body.errors[0].pointer, kinds.body.errors[0].code]).toEqual([400, '#/to', 'unit_wrong_kind']) // prettier-ignore
    const misspelt = await calculate('unit-conversion', { quantity: { value: 1, unit: 'Nm' }, to: 'N.m' })
    expect(misspelt.body.errors).toMatchObject([{ pointer: '#/quantity/unit', suggestion: 'N.m' }])
  })
})

describe('a calculation', () => {
  it.each(['axis-offset', 'limb-weight', 'unit-conversion'])(
    '%s is refused to nobody and to the auditor, and with faults',
    async (what) => {
      // prettier-ignore
      const url = `/v1/calculations/${what}`
      expect((await service.api(null).post(url, {})).status).toBe(401)
      expect((await service.api(clinic.tokens.auditor).post(url, {})).status).toBe(403)
      const answer = await calculate(what, {})
      expect([answer.status, answer.body.errors.length > 0]).toEqual([400, true])
    },
  )
})

import { beforeAll, describe, expect, it } from 'vitest'
import type { LooseDocument } from '../../fixtures/example-session.ts'
import { makeTestService } from '../../harness/clinic.ts'
import { testDatabase } from '../../harness/test-database.ts'
import { axisCheckAt, makeWorld, type World } from './documents.ts'

const service = await makeTestService(await testDatabase())
let world: World
let day = 0
beforeAll(async () => {
  world = await makeWorld(service)
})

/** A visit with the axes of both knees so far off, and stops from 0 to 90 deg unless changed; what its two setups say. */
async function axesAt(forwardMm: number, upMm: number, change: (setup: LooseDocument) => void = () => {}) {
  const body = await world.pushVisit(`2026-09-${String(++day).padStart(2, '0')}`, {
    change: (document) =>
      document.setups.forEach((setup: LooseDocument) => {
        setup.axisCheck = axisCheckAt(forwardMm, upMm, 'clear')
        setup.stops = { extension: { value: 0, unit: 'deg' }, flexion: { value: 90, unit: 'deg' } }
        change(setup)
      }),
  })
  const offset = (side: string): LooseDocument =>
    body.setupFindings.find((found: LooseDocument) => found.side === side).axisOffset
  return { body, left: offset('left'), right: offset('right') }
}

/** Worked out by hand from the linkage for an arm of 300 mm: angle, torque shown over torque given, knee minus machine. */
const WORKED: [number, number, { angle: number; ratio: number; errorDeg: number }[]][] = [
  [20, 0, [
      { angle: 90, ratio: 1, errorDeg: 3.823 },
      { angle: 60, ratio: 1.03454, errorDeg: 3.31 },
      { angle: 30, ratio: 1.06131, errorDeg: 1.91 },
      { angle: 0, ratio: 1.07143, errorDeg: 0 },
    ]],
  [0, -20, [
      { angle: 90, ratio: 1.07143, errorDeg: 0 },
      { angle: 0, ratio: 1, errorDeg: -3.823 },
    ]],
  [20, -20, [{ angle: 45, ratio: 1.1041, errorDeg: 0 }]],
  [-20, 0, [{ angle: 0, ratio: 0.9375, errorDeg: 0 }]],
] // prettier-ignore

describe('the axis check of a pushed session', () => {
  it.each(WORKED)('of an axis %i mm forward and %i mm up tells both errors over the range', async (x, y, rows) => {
    const { right } = await axesAt(x, y)
    expect([right.forward.value, right.up.value].map((value: number) => Math.round(value * 1e6) / 1e6 + 0)).toEqual([x, y]) // prettier-ignore
    expect(right).toMatchObject({ verdict: 'beyond_tolerance', confidence: 0.95, tolerance: { value: 10, unit: 'mm' } })
    for (const { angle, ratio, errorDeg } of rows) {
      const at = right.errors.byAngle.find((point: LooseDocument) => point.angle.value === angle)
      expect(at.torqueRatio).toBeCloseTo(ratio, 5)
      expect(at.angleError.value).toBeCloseTo(errorDeg, 3)
    }
    expect(right.errors.byAngle).toHaveLength(19)
    expect(right.errors.largestTorqueError.unit).toBe('%')
  })

  it('says what to move which way for each side, and keeps saying it when the session is read again', async () => {
    const { body, left, right } = await axesAt(20, 0)
    expect(right.errors).toMatchObject({
      largestTorqueError: { value: expect.closeTo(7.142857, 5), unit: '%' },
      largestAngleError: { value: expect.closeTo(3.823, 3), unit: 'deg' },
    })
    expect(right.move).toMatchObject([{ seat: 'back', machine: 'forward', seatSeenFromTheMachine: 'left', machineSeenFromTheMachine: 'right' }]) // prettier-ignore
    expect(left.move).toMatchObject([{ seat: 'back', machine: 'forward', seatSeenFromTheMachine: 'right', machineSeenFromTheMachine: 'left' }]) // prettier-ignore
    expect(left.move[0].inWords).toMatch(/^Move the seat back .* by 20 mm/)
    const read = await world.clinician.get(`/v1/sessions/${body.session.id}`)
    expect(read.body.setupFindings).toEqual(body.setupFindings)
  })

  it('moves nothing where the offset is within tolerance, and nothing where the readings leave it open', async () => {
    expect((await axesAt(1, -1)).right).toMatchObject({ verdict: 'within_tolerance', move: null })
    const { right } = await axesAt(9, 0)
    expect(right).toMatchObject({ verdict: 'cannot_tell', reason: 'interval_reaches_tolerance', move: null })
    expect(right.halfWidth.value).toBeGreaterThan(1)
    expect(right.errors.largestTorqueError.value).toBeGreaterThan(2)
  })

  it('tells no errors where nobody knows how far the pad is from the knee', async () => {
    const { right } = await axesAt(20, 0, (setup) => (setup.attachment.padMountedOn = 'shin'))
    expect(right).toMatchObject({ verdict: 'cannot_tell', reason: 'distance_unknown', errors: null, move: null })
    const unchecked = await axesAt(0, 0, (setup) => (setup.axisCheck = { landmark: 'lateral_femoral_condyle', status: 'not_performed', reason: 'time' })) // prettier-ignore
    expect(unchecked.right).toMatchObject({ verdict: 'not_assessable', errors: null, move: null })
  })

  it('goes from reading to reading where no stops were written down', async () => {
    const { right } = await axesAt(20, 0, (setup) => {
      delete setup.stops
      setup.axisCheck.padPositions.forEach((reading: LooseDocument, i: number) => (reading.angle.value = [90, 80, 70, 40, 30][i])) // prettier-ignore
    })
    const angles = right.errors.byAngle.map((point: LooseDocument) => point.angle.value)
    expect([angles[0], angles.at(-1)]).toEqual([30, 90])
  })
})

import { beforeAll, describe, expect, it } from 'vitest'
import type { LooseDocument } from '../../fixtures/example-session.ts'
import { makeTestService } from '../../harness/clinic.ts'
import { testDatabase } from '../../harness/test-database.ts'
import { makeWorld, type World } from './documents.ts'

const service = await makeTestService(await testDatabase())
let world: World
beforeAll(async () => {
  world = await makeWorld(service)
})

/** A gap behind the calf, the flexion it was looked at for, and the stop that was set. */
async function judged(gapCm: number, plannedDeg: number, stopDeg: number | null) {
  const body = await world.pushVisit('2026-09-01', {
    change: (document) => {
      const [, setup] = document.setups
      setup.seatDepthCheck = { calfToSeatGap: { value: gapCm, unit: 'cm' }, plannedFlexion: { value: plannedDeg, unit: 'deg' } } // prettier-ignore
      if (stopDeg === null) delete setup.stops
      else setup.stops.flexion.value = stopDeg
    },
  })
  const warned = body.flags.some(({ code, pointer }: LooseDocument) => code === 'seat_depth_gap' && pointer === '#/setups/1/seatDepthCheck') // prettier-ignore
  return [body.setupFindings[1].seatDepthSufficient.verdict, warned ? 'warned' : 'no warning']
}

describe('the gap between calf and seat', () => {
  it('of two fingers is enough for up to 100 deg; less, or more flexion, is warned of and never refused', async () => {
    expect(await judged(3, 100, 95)).toEqual(['yes', 'no warning'])
    expect(await judged(2.9, 95, 95)).toEqual(['no', 'warned'])
    expect(await judged(0, 95, null)).toEqual(['no', 'warned'])
    expect(await judged(3, 101, null)).toEqual(['unknown', 'warned'])
  })

  it('is looked at for as much flexion as the machine was let go, whatever was planned', async () => {
    expect(await judged(3, 90, 110)).toEqual(['unknown', 'warned'])
    expect(await judged(3, 90, 100)).toEqual(['yes', 'no warning'])
  })
})

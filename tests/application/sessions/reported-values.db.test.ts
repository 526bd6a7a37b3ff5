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

const value = (measure: string, statistic: string, amount: number, unit: string) => ({
  movement: 'extension',
  measure,
  statistic,
  quantity: { value: amount, unit },
})
const reporting =
  (...values: LooseDocument[]) =>
  (document: LooseDocument) =>
    document.sets.forEach((set: LooseDocument) => (set.reported.values = values))
const extensionOf = (body: LooseDocument, side = 'left') =>
  body.results.find((one: LooseDocument) => one.side === side && one.movement === 'extension').measures

describe('a value that a device reported', () => {
  it('is given per kilogram where the body was weighed, and says that it was derived', async () => {
    const measures = extensionOf(
      await world.pushVisit('2026-10-06', {
        change: reporting(
          value('peakTorque', 'best', 171, 'N.m'),
          value('peakTorque', 'mean', 100, '[ft_i].[lbf_av]'),
          value('workPerRepetition', 'best', 136.8, 'J'),
          value('averagePower', 'best', 68.4, 'W'),
        ),
      }),
    )
    expect(measures.peakTorquePerBodyMass.best).toEqual({ value: 171 / 68.4, unit: 'N.m/kg', derived: 'from_reported_value' }) // prettier-ignore
    expect(measures.peakTorquePerBodyMass.mean.value).toBeCloseTo(135.5817948 / 68.4, 7)
    expect(measures.workPerBodyMass.best).toEqual({ value: 2, unit: 'J/kg', derived: 'from_reported_value' })
    expect(measures.averagePowerPerBodyMass.best).toMatchObject({ value: 1, unit: 'W/kg' })
    expect(measures.averagePowerPerBodyMass.mean).toEqual({ value: null, unit: 'W/kg', reason: 'not_reported' })
    expect(measures.peakTorque.best).not.toHaveProperty('derived')
    const { points } = await world.trend('left')
    expect(points.at(-1).perBodyMass.left).toEqual({ value: 2.5, unit: 'N.m/kg' })
  })

  it('per kilogram already stays as it was reported, whatever the body weighs here', async () => {
    const measures = extensionOf(
      await world.pushVisit('2026-10-07', {
        change: reporting(
          value('peakTorque', 'best', 171, 'N.m'),
          value('peakTorquePerBodyMass', 'best', 2.61, 'N.m/kg'),
        ),
      }),
    )
    expect(measures.peakTorquePerBodyMass.best).toEqual({ value: 2.61, unit: 'N.m/kg' })
  })

  it('is not given per kilogram where nobody weighed the body', async () => {
    const measures = extensionOf(
      await world.pushVisit('2026-10-08', {
        change: (document) => {
          reporting(value('peakTorque', 'best', 171, 'N.m'))(document)
          delete document.bodyMass
        },
      }),
    )
    expect(measures.peakTorquePerBodyMass.best).toEqual({ value: null, unit: 'N.m/kg', reason: 'body_mass_missing' })
    expect(measures.workPerBodyMass.best).toEqual({ value: null, unit: 'J/kg', reason: 'not_reported' })
  })
})

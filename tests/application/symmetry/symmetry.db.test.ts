import { beforeAll, describe, expect, it } from 'vitest'
import type { LooseDocument } from '../../fixtures/example-session.ts'
import { makeTestService } from '../../harness/clinic.ts'
import { testDatabase } from '../../harness/test-database.ts'
import { makeWorld, recorded, type World } from '../sessions/documents.ts'

const service = await makeTestService(await testDatabase())
let world: World
let points: LooseDocument[]

const deg = (value: number) => ({ value, unit: 'deg' })
const cm = (value: number) => ({ value, unit: 'cm' })

/** A dial that turns the other way for the other limb, and one of its own on each side; the rail has a scale for each. */
function withSideDials(body: LooseDocument): void {
  body.settings.push(
    { key: 'seatTurn', label: 'Turn of the seat', kind: 'quantity', unit: 'deg', range: { low: -45, high: 45 }, mirror: 'negated', tolerance: deg(1) }, // prettier-ignore
    { key: 'sideways', label: 'Sideways', kind: 'quantity', unit: 'cm', range: { low: 0, high: 20 }, mirror: 'own_value', tolerance: cm(0.5) }, // prettier-ignore
  )
}

/** Each day what the right limb has otherwise than the mirrored left one. */
const DAYS: readonly (readonly [day: string, differs: string, (right: LooseDocument) => unknown])[] = [
  ['2026-05-01', 'nothing', () => undefined],
  ['2026-05-02', 'a turn that was not mirrored', (right) => (right.settings.seatTurn = deg(10))],
  ['2026-05-03', 'another mark', (right) => (right.settings.floorRail.mark = '3')],
  ['2026-05-04', 'another seat depth', (right) => (right.settings.seatDepth = cm(44))],
  ['2026-05-05', 'a part that was not recorded', (right) => (right.stabilisation.hands = 'not_recorded')],
]

beforeAll(async () => {
  world = await makeWorld(service, { dynamometer: withSideDials })
  for (const [index, [day, , edit]] of DAYS.entries()) {
    const document = recorded(world.visit(day), 10 * index)
    const [left, right] = document.setups
    Object.assign(left.settings, { seatTurn: deg(-10), sideways: cm(4) })
    Object.assign(right.settings, { seatTurn: deg(10), sideways: cm(9) })
    if (day === '2026-05-02') left.settings.seatTurn = deg(10)
    edit(right)
    await world.push(document)
  }
  ;({ points } = await world.symmetry())
}, 60_000)

describe('symmetry of the two limbs of a session', () => {
  it('is there where the setups match apart from what is mirrored or has a value of its own', () => {
    expect(points[0]).toMatchObject({ setupsMatch: 'comparable', reasons: [] })
    expect(points[0]?.limbSymmetryIndex.value).toBeGreaterThan(90)
  })

  it.each([
    [1, 'seat_turn', 'comparable_with_caution'],
    [2, 'floor_rail', 'comparable_with_caution'],
    [3, 'seat_depth', 'not_comparable'],
    [4, 'hands', 'not_assessable'],
  ] as const)('of day %i names %s: %s', (index, factor, verdict) => {
    const point = points[index]!
    expect(point.setupsMatch).toBe(verdict)
    expect(point.reasons.map((reason: LooseDocument) => reason.factor)).toEqual([factor])
    if (verdict === 'comparable_with_caution') {
      expect(point.limbSymmetryIndex.value).toBeGreaterThan(90)
      expect(point.cautions).toContain(verdict)
    } else {
      const reason = `setups_${verdict}`
      expect(point.limbSymmetryIndex).toEqual({ value: null, unit: '%', reason })
      expect(point.deficit).toEqual({ value: null, unit: '%', reason })
      // Both limbs are shown all the same
      expect([point.left.value, point.right.value].every((value) => value > 100)).toBe(true)
    }
  })

  it.each([
    ['from a day on', { from: '2026-05-04' }, ['04', '05']],
    ['up to a day', { to: '2026-05-02' }, ['01', '02']],
    ['of setups that match', { comparability: 'comparable' }, ['01']],
    ['of setups that match, with caution too', { comparability: 'comparable_with_caution' }, ['01', '02', '03']],
    ['of both', { comparability: 'comparable_with_caution', from: '2026-05-03' }, ['03']],
  ] as const)('is asked for %s', async (_, ask, days) => {
    const shown = (await world.symmetry(ask)).points
    expect(shown.map((point: LooseDocument) => point.at.slice(8, 10))).toEqual(days)
    expect(shown).toEqual(points.filter((point) => days.some((day) => point.at.slice(8, 10) === day)))
  })
})

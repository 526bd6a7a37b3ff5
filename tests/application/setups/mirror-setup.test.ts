import fc from 'fast-check'
import { describe, expect, it } from 'vitest'
import { mirrorSetting, mirrorSetup, otherSide, type Carried } from '../../../src/application/setups/mirror-setup.ts'
import { dynamometerDocument, type SettingDescription } from '../../../src/domain/dynamometer-document.ts'
import type { SettingValue } from '../../../src/domain/session-document.ts'

const MARKS = ['a', 'b', 'c', 'd']
const CHOICES = ['none', 'thin', 'thick']
const label = { label: 'A dial' }
const unit = { unit: 'deg', range: { low: -40, high: 40 } }

/** One dial of every kind under every rule that the kind may have. */
const description = dynamometerDocument.parse({
  name: 'Any machine',
  settings: [
    { key: 'sameQuantity', kind: 'quantity', mirror: 'same', ...unit, ...label },
    { key: 'negatedQuantity', kind: 'quantity', mirror: 'negated', ...unit, ...label },
    { key: 'ownQuantity', kind: 'quantity', mirror: 'own_value', ...unit, ...label },
    { key: 'sharedMark', kind: 'scaleMark', mirror: 'same', scales: { left: 'rail', right: 'rail' }, marks: MARKS, ...label }, // prettier-ignore
    { key: 'sidedMark', kind: 'scaleMark', mirror: 'same_mark_on_other_scale', scales: { left: 'rail-l', right: 'rail-r' }, marks: MARKS, ...label }, // prettier-ignore
    { key: 'choice', kind: 'choice', mirror: 'same', choices: CHOICES, ...label },
    { key: 'switch', kind: 'boolean', mirror: 'same', ...label },
  ],
})
const dial = (key: string): SettingDescription => description.settings.find((one) => one.key === key)!

const degrees = (value: number): SettingValue => ({ value, unit: 'deg', canonicalValue: value, canonicalUnit: 'deg' })
const angle = fc.double({ min: -40, max: 40, noNaN: true }).map((value) => degrees(value + 0))
const side = fc.constantFrom('left' as const, 'right' as const)

const setupFor = (of: 'left' | 'right') =>
  fc.record(
    {
      sameQuantity: angle,
      negatedQuantity: angle,
      sharedMark: fc.constantFrom(...MARKS).map((mark) => ({ scale: 'rail', mark })),
      sidedMark: fc.constantFrom(...MARKS).map((mark) => ({ scale: of === 'left' ? 'rail-l' : 'rail-r', mark })),
      choice: fc.constantFrom(...CHOICES),
      switch: fc.boolean(),
    },
    { requiredKeys: [] },
  )

describe('a setup mirrored to the other limb', () => {
  it('and back is the original, for every dial that carries over', () => {
    fc.assert(
      fc.property(
        side.chain((of) => fc.tuple(fc.constant(of), setupFor(of))),
        ([of, settings]) => {
          const original: Carried = { bodyPosition: 'seated', settings, stabilisation: { hands: 'holding_handles' } }
          const there = mirrorSetup(original, description, otherSide(of))
          expect(mirrorSetup(there, description, of)).toEqual(original)
        },
      ),
      { seed: 20261125, numRuns: 500 },
    )
  })

  it('negates what the clinic says is negated, and leaves 0 as 0', () => {
    expect(mirrorSetting(degrees(4), dial('negatedQuantity'), 'left')).toEqual(degrees(-4))
    expect(Object.is((mirrorSetting(degrees(0), dial('negatedQuantity'), 'left') as { value: number }).value, 0)).toBe(true) // prettier-ignore
    expect(mirrorSetting(degrees(4), dial('sameQuantity'), 'left')).toEqual(degrees(4))
  })

  it('reads the same mark on the scale of that side', () => {
    expect(mirrorSetting({ scale: 'rail-l', mark: 'c' }, dial('sidedMark'), 'right')).toEqual({ scale: 'rail-r', mark: 'c' }) // prettier-ignore
    expect(mirrorSetting({ scale: 'rail', mark: 'c' }, dial('sharedMark'), 'right')).toEqual({ scale: 'rail', mark: 'c' }) // prettier-ignore
  })

  it('leaves out a dial with a value of its own on each side, and one the description no longer has', () => {
    const setup: Carried = { bodyPosition: 'seated', settings: { ownQuantity: degrees(3), gone: true, switch: true } }
    expect(mirrorSetup(setup, description, 'left').settings).toEqual({ switch: true })
  })

  it('keeps what belongs to the body: position, straps, stops, lever arm', () => {
    const setup: Carried = {
      bodyPosition: 'seated',
      stops: { extension: degrees(5) as never, flexion: degrees(95) as never },
      attachment: { key: 'shin-pad' },
      optionalParts: { wedge: 'used' },
    }
    expect(mirrorSetup(setup, description, 'left')).toEqual(setup)
  })
})

import fc from 'fast-check'
import { describe, expect, it } from 'vitest'
import { linesOf } from '../../src/cli/lines-of.ts'

async function textsOf(chunks: readonly Uint8Array[], most: number): Promise<(string | null)[]> {
  const lines: (string | null)[] = []
  for await (const line of linesOf(chunks, most))
    lines.push(line === null ? null : Buffer.from(line).toString('latin1'))
  return lines
}

describe('the lines of a stream of bytes', () => {
  it('are those of the whole, however it is cut; what follows the last line feed is one, if it is anything', async () => {
    // Few different bytes, so that there are line feeds; any of them may be no UTF-8.
    const bytes = fc.array(fc.constantFrom(0x0a, 0x0d, 0x20, 0x7b, 0xc3, 0xff), { maxLength: 60 })
    await fc.assert(
      fc.asyncProperty(bytes, fc.array(fc.nat(60), { maxLength: 6 }), async (all, cuts) => {
        const whole = Buffer.from(all)
        const places = [0, ...cuts.map((cut) => Math.min(cut, whole.length)).sort((a, b) => a - b), whole.length]
        const chunks = places.slice(1).map((end, i) => whole.subarray(places[i], end))
        const expected = whole.toString('latin1').split('\n')
        if (expected.at(-1) === '') expected.pop()
        expect(await textsOf(chunks, 1_000)).toEqual(expected)
        expect(await textsOf(chunks, 3)).toEqual(expected.map((line) => (line.length > 3 ? null : line)))
      }),
      { seed: 20261125 },
    )
  })
})

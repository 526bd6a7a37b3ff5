import { globSync, readFileSync } from 'node:fs'
import { fileURLToPath } from 'node:url'
import { describe, expect, it } from 'vitest'
import * as compute from '../../src/compute/index.ts'

/**
 * The examples of the docstrings print what they say. An example is `expression // value` on one line; one that stands for
 * a recording too long to write down ("torque", "wright1") cannot run and is left to the reader.
 */
const FOLDER = fileURLToPath(new URL('../../src/compute', import.meta.url))
const names = Object.keys(compute)
const evaluate = (code: string): unknown =>
  // eslint-disable-next-line @typescript-eslint/no-implied-eval -- the code is this project's own documentation
  (new Function(...names, `return (${code}\n)`) as (...values: unknown[]) => unknown)(...Object.values(compute))

function tryToEvaluate(code: string): { value: unknown } | null {
  if (code.includes('...')) return null
  try {
    return { value: evaluate(code) }
  } catch (error) {
    if (error instanceof SyntaxError || error instanceof ReferenceError) return null
    throw error
  }
}

/** Equal, numbers to as many digits as are printed. */
function expectPrinted(actual: unknown, printed: unknown, text: string): void {
  if (typeof printed === 'number') {
    const digits = text.match(/-?\d+(?:\.(\d+))?/g)?.map((number) => number.split('.')[1]?.length ?? 0) ?? [0]
    // The last digit printed may have been cut off or rounded.
    expect(Math.abs((actual as number) - printed), text).toBeLessThanOrEqual(10 ** -Math.max(...digits))
  } else if (ArrayBuffer.isView(actual) || Array.isArray(actual)) {
    const [values, expected] = [Array.from(actual as ArrayLike<unknown>), printed as unknown[]]
    expect(values, text).toHaveLength(expected.length)
    expected.forEach((value, i) => expectPrinted(values[i], value, text))
  } else if (printed !== null && typeof printed === 'object') {
    for (const [key, value] of Object.entries(printed)) {
      expectPrinted((actual as Record<string, unknown>)[key], value, text)
    }
  } else expect(actual, text).toEqual(printed)
}

const examples = globSync('**/*.ts', { cwd: FOLDER })
  .toSorted()
  .flatMap((file) => {
    const lines = readFileSync(`${FOLDER}/${file}`, 'utf8').split('\n')
    return lines.flatMap((line) => {
      const match = /@example (.+?) \/\/ (.+?)\s*(?:\*\/)?$/.exec(line)
      if (match === null) return []
      // "// 12 ; f(2) // 13": the first of several, and "..." for what is left out of an object.
      const printed = match[2]!
        .split(/ ; |; /)[0]!
        .replace(/, \.\.\. \}/, ' }')
        .replace(/(\d)\.\.\./, '$1')
      return [{ file, code: match[1]!, printed }]
    })
  })
const runnable = examples.flatMap((example) => {
  const [actual, printed] = [tryToEvaluate(example.code), tryToEvaluate(example.printed)]
  return actual === null || printed === null ? [] : [{ ...example, actual: actual.value, expected: printed.value }]
})

describe('examples of the docstrings', () => {
  it.each(runnable)('$file: $code', ({ actual, expected, code, printed }) => {
    expectPrinted(actual, expected, `${code} // ${printed}`.slice(code.length))
  })

  it('are for the greater part such that they can be run', () => {
    expect(runnable.length).toBeGreaterThan(80)
  })
})

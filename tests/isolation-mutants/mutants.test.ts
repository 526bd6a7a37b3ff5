import { existsSync, readFileSync } from 'node:fs'
import { join } from 'node:path'
import { fileURLToPath } from 'node:url'
import { describe, expect, it } from 'vitest'
import { MUTANTS } from './mutants.ts'
import { placesOf } from './plant.ts'

const root = fileURLToPath(new URL('../..', import.meta.url))

describe('the list of planted faults', () => {
  it.each(MUTANTS.map((mutant) => [mutant.name, mutant] as const))(
    '%s: finds its place exactly once, and the test that catches it',
    (_name, { edits = [], sql, caughtBy }) => {
      expect(edits.length + (sql === undefined ? 0 : 1)).toBeGreaterThan(0)
      for (const edit of edits) {
        expect([edit.file, placesOf(root, edit)]).toEqual([edit.file, 1])
        expect(edit.replace).not.toBe(edit.find)
      }
      expect(existsSync(join(root, caughtBy.file))).toBe(true)
      // The name of a test that is made from a list stands there with a place for what is in the list.
      const source = readFileSync(join(root, caughtBy.file), 'utf8').replaceAll("\\'", "'")
      for (const words of caughtBy.test.split('|')) {
        const written = words.replace(/^(in the (?:address|arguments) of ).+ are\b/, '$1%s are')
        expect(source).toContain(written)
      }
    },
  )

  it('has no name twice, and some faults that are in policies and grants alone', () => {
    expect(new Set(MUTANTS.map(({ name }) => name)).size).toBe(MUTANTS.length)
    expect(MUTANTS.filter(({ edits, sql }) => edits === undefined && sql !== undefined).length).toBeGreaterThanOrEqual(
      3,
    )
  })
})

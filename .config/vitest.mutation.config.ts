import { fileURLToPath } from 'node:url'
import { configDefaults, defineConfig } from 'vitest/config'

/** The tests a mutant of the compute core has to survive: its own, but for those that repeat one decision 20,000 times. */
export default defineConfig({
  root: fileURLToPath(new URL('..', import.meta.url)),
  test: {
    // Instrumented, and beside other mutants on a busy machine.
    testTimeout: 60_000,
    include: ['tests/compute/**/*.test.ts'],
    exclude: [...configDefaults.exclude, 'tests/compute/trends/planted-no-change.test.ts'],
  },
})

import { fileURLToPath } from 'node:url'
import { defineConfig } from 'vitest/config'

/** The tests that a changed table of the compute core has to survive: a table is built on loading, so each runs in a fresh worker. */
export default defineConfig({
  root: fileURLToPath(new URL('..', import.meta.url)),
  test: {
    testTimeout: 60_000,
    include: ['tests/compute/{published-tables,reference-data}.test.ts'],
  },
})

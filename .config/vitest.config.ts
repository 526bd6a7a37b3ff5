import { fileURLToPath } from 'node:url'
import { defineConfig } from 'vitest/config'
import { SuiteTimes } from './suite-times.ts'

// Two projects so that `vitest --project unit` starts no database: a file that needs Postgres is named *.db.test.ts.
const databaseTests = 'tests/**/*.db.test.ts'

export default defineConfig({
  root: fileURLToPath(new URL('..', import.meta.url)),
  // One graphql: the bundler would take its ES modules where Node, and with it mercurius, takes the other ones.
  resolve: { alias: [{ find: /^graphql$/, replacement: 'graphql/index.js' }] },
  test: {
    // A process per file: a test may kill a service or crash a worker without taking its neighbours along.
    pool: 'forks',
    maxWorkers: 2,
    reporters: ['default', new SuiteTimes()],
    projects: [
      { extends: true, test: { name: 'unit', include: ['tests/**/*.test.ts'], exclude: [databaseTests] } },
      {
        extends: true,
        test: {
          name: 'database',
          include: [databaseTests],
          globalSetup: ['tests/harness/global-setup.ts'],
          testTimeout: 30_000,
          hookTimeout: 60_000,
        },
      },
    ],
  },
})

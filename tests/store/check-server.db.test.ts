import { describe, expect, it } from 'vitest'
import { checkServer, faultsOf, missingFrom } from '../../src/store/check-server.ts'
import { emptyDatabase, testDatabase } from '../harness/test-database.ts'

const database = await testDatabase()
const empty = await emptyDatabase()

const FACTS = {
  version_number: 180004,
  fsync: 'on',
  full_page_writes: 'on',
  synchronous_commit: 'on',
  role: 'limb_ledger_app',
  above_policies: false,
}

describe('the check of the database at boot', () => {
  it('finds nothing to say about a migrated database and the role of the service', async () => {
    expect(await checkServer(database.appUrl)).toEqual([])
  })

  it('refuses a superuser, whom no policy binds', async () => {
    expect(await checkServer(database.adminUrl)).toEqual([
      expect.stringMatching(/stands above row-level security\. Use limb_ledger_app/) as string,
    ])
  })

  it('refuses a database without our schema, and says what to run', async () => {
    expect(await checkServer(empty.appUrl)).toEqual([
      expect.stringMatching(/no schema of ours.*npm run db:migrate/) as string,
    ])
  })

  it('names the migrations that are missing', () => {
    expect(missingFrom([])).toContain('0001_init')
    expect(missingFrom(missingFrom([]))).toEqual([])
  })

  it.each([
    [140022, 'PostgreSQL 14.22 is too old'],
    [150013, 'PostgreSQL 15.13 is too old'],
    [160009, 'PostgreSQL 16.9 is too old'],
    [170005, 'PostgreSQL 17.5 is too old'],
  ])('refuses version %i: it can show rows behind a policy in its statistics', (version_number, words) => {
    expect(faultsOf({ ...FACTS, version_number })).toEqual([expect.stringContaining(words) as string])
  })

  it.each([150014, 150020, 160010, 170006, 180000, 190001])('accepts version %i', (version_number) => {
    expect(faultsOf({ ...FACTS, version_number })).toEqual([])
  })

  it.each(['fsync', 'full_page_writes', 'synchronous_commit'])(
    'refuses a server with %s off: an acknowledged write could be lost',
    (setting) => {
      expect(faultsOf({ ...FACTS, [setting]: 'off' })).toEqual([expect.stringContaining(`${setting} is off`) as string])
    },
  )

  it('says everything that is wrong at once', () => {
    expect(faultsOf({ ...FACTS, version_number: 140000, fsync: 'off', above_policies: true })).toHaveLength(3)
  })
})

import { describe, expect, it } from 'vitest'
import { withClient } from '../../src/store/migrate/with-client.ts'
import { testDatabase } from './test-database.ts'

const database = await testDatabase()
const another = await testDatabase()

async function query(url: string, sql: string): Promise<Record<string, unknown>[]> {
  return withClient(url, async (client) => (await client.query<Record<string, unknown>>(sql)).rows)
}

describe('the database of a test file', () => {
  it('is migrated, and its three login roles reach it', async () => {
    for (const [url, role] of [
      [database.appUrl, 'limb_ledger_app'],
      [database.teamUrl, 'limb_ledger_team'],
      [database.sealerUrl, 'limb_ledger_sealer'],
    ] as const) {
      const [row] = await query(
        url,
        `select current_user::text as role, to_regclass('subject') is not null as migrated`,
      )
      expect(row).toEqual({ role, migrated: true })
    }
  })

  it('does not see what another file writes', async () => {
    await query(database.adminUrl, 'create table left_behind (n int)')
    expect(await query(another.adminUrl, `select to_regclass('left_behind') as found`)).toEqual([{ found: null }])
  })

  it('lets no login role make a table, not even a temporary one', async () => {
    for (const url of [database.appUrl, database.teamUrl, database.sealerUrl]) {
      await expect(query(url, 'create temporary table principal (id uuid)')).rejects.toThrow('permission denied')
      await expect(query(url, 'create table mine (id uuid)')).rejects.toThrow('permission denied')
    }
  })
})

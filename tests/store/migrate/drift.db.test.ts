import { describe, expect, it } from 'vitest'
import { withClient } from '../../../src/store/migrate/with-client.ts'
import { testDatabase } from '../../harness/test-database.ts'
import { driftFromSchema } from './schema-engine.ts'

const database = await testDatabase()

/**
 * What Prisma can't see (policies, CHECKs, grants, functions, INCLUDE and WHERE of indexes) is kept by the golden of
 * tests/catalogue instead.
 */
describe('schema.prisma', () => {
  it('says of the migrated database exactly what is there', async () => {
    expect(await driftFromSchema(database.adminUrl)).toBe('-- This is an empty migration.\n')
  })

  it('is seen to differ when a column is added behind its back', async () => {
    await withClient(database.adminUrl, (client) => client.query('alter table subject add column unseen int'))
    expect(await driftFromSchema(database.adminUrl)).toContain('DROP COLUMN "unseen"')
  })
})

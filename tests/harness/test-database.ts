import { randomBytes } from 'node:crypto'
import { afterAll, inject } from 'vitest'
import { loginUrl } from '../../src/store/migrate/ensure-roles.ts'
import { withClient } from '../../src/store/migrate/with-client.ts'
import { withDatabase } from './database-url.ts'
import type {} from './global-setup.ts'

export interface TestDatabase {
  /** Superuser: to arrange and to look. What is under test logs in by one of the others. */
  readonly adminUrl: string
  readonly appUrl: string
  readonly teamUrl: string
  readonly sealerUrl: string
}

/**
 * A migrated, empty database for this test file alone, dropped at its end:
 * `const database = await testDatabase()` at the top of a *.db.test.ts.
 */
export async function testDatabase(): Promise<TestDatabase> {
  return databaseFrom(inject('postgres').template)
}

/** As testDatabase, with no migration applied: for tests of the migrations themselves. */
export async function emptyDatabase(): Promise<TestDatabase> {
  return databaseFrom('template1')
}

async function databaseFrom(template: string): Promise<TestDatabase> {
  const { adminUrl, prefix, password } = inject('postgres')
  const name = `${prefix}_${randomBytes(4).toString('hex')}`
  await withClient(adminUrl, async (client) => {
    await client.query(`create database ${name} template ${template}`)
    // A copy carries no rights on the database itself.
    await client.query(`revoke all on database ${name} from public`)
    await client.query(
      `grant connect on database ${name} to limb_ledger_owner, limb_ledger_app, limb_ledger_team, limb_ledger_sealer`,
    )
  })
  afterAll(() => withClient(adminUrl, (client) => client.query(`drop database ${name} with (force)`)).then(() => {}))
  const own = withDatabase(adminUrl, name)
  return {
    adminUrl: own,
    appUrl: loginUrl(own, 'app', password),
    teamUrl: loginUrl(own, 'team', password),
    sealerUrl: loginUrl(own, 'sealer', password),
  }
}

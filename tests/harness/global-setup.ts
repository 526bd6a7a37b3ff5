import { createHash, randomBytes } from 'node:crypto'
import type { TestProject } from 'vitest/node'
import { applyMigrations } from '../../src/store/migrate/apply-migrations.ts'
import { ensureRoles } from '../../src/store/migrate/ensure-roles.ts'
import { withClient } from '../../src/store/migrate/with-client.ts'
import { choosePostgres } from './choose-postgres.ts'
import { withDatabase } from './database-url.ts'

export interface ProvidedPostgres {
  readonly adminUrl: string
  /** Begins the name of every database of this run, so that runs on one server do not meet. */
  readonly prefix: string
  /** A migrated database that is copied, never connected to. */
  readonly template: string
  readonly password: string
}

declare module 'vitest' {
  export interface ProvidedContext {
    postgres: ProvidedPostgres
  }
}

export default async function setup(project: TestProject): Promise<() => Promise<void>> {
  const chosen = await choosePostgres()
  const { adminUrl } = chosen
  const prefix = `limb_ledger_test_${randomBytes(4).toString('hex')}`
  const template = `${prefix}_template`
  // Roles are shared by the cluster: two runs on one server must arrive at the same password.
  const password = createHash('sha256').update(`limb-ledger tests ${adminUrl}`).digest('base64url')
  const teardown = async () => {
    await (chosen.stop?.() ?? dropDatabases(adminUrl, prefix))
  }
  try {
    const version = await withClient(adminUrl, async (client) => {
      await client.query(`create database ${template}`)
      const { rows } = await client.query<{ server_version: string }>('show server_version')
      return rows[0]?.server_version
    })
    console.log(`Postgres for the tests: ${chosen.described}, version ${version}`)
    const templateUrl = withDatabase(adminUrl, template)
    await ensureRoles(templateUrl, { app: password, team: password, sealer: password })
    await applyMigrations(templateUrl)
    project.provide('postgres', { adminUrl, prefix, template, password })
  } catch (error) {
    await teardown()
    throw error
  }
  return teardown
}

async function dropDatabases(adminUrl: string, prefix: string): Promise<void> {
  await withClient(adminUrl, async (client) => {
    const { rows } = await client.query<{ datname: string }>(
      'select datname from pg_database where starts_with(datname, $1)',
      [prefix],
    )
    for (const { datname } of rows) await client.query(`drop database if exists ${datname} with (force)`)
  })
}

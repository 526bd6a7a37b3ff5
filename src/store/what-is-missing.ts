import type { Database } from '../tenancy/database.ts'
import { missingFrom } from './check-server.ts'

/** Why requests should not be sent here now, in words for the machine room; empty when nothing is missing. */
export async function whatIsMissing(db: Database): Promise<readonly string[]> {
  try {
    return missingFrom(await db.appliedMigrations()).length === 0 ? [] : ['migrations_missing']
  } catch {
    return ['database_not_reachable']
  }
}

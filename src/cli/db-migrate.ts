import { readConfig, type Config } from '../config.ts'
import { applyMigrations } from '../store/migrate/apply-migrations.ts'
import { ensureRoles, LOGIN_ROLES, type LoginRole } from '../store/migrate/ensure-roles.ts'
import { MigrateError } from '../store/migrate/migrate-error.ts'

const HELP = `Usage: npm run db:migrate

Makes the roles and brings the database of ADMIN_DATABASE_URL to the last migration; says what it did.
The passwords of the roles are those in DATABASE_URL, TEAM_DATABASE_URL and SEALER_DATABASE_URL.`

export async function run(argv: readonly string[]): Promise<number> {
  if (argv.length > 0) {
    console.log(HELP)
    return argv.every((word) => word === '--help' || word === '-h') ? 0 : 2
  }
  try {
    const config = readConfig(process.env)
    if (config.ADMIN_DATABASE_URL === undefined)
      throw new MigrateError(
        'ADMIN_DATABASE_URL is not set. Without a database of your own nothing is to be done: the demo migrates its own.',
      )
    const say = (sentence: string) => console.log(`db:migrate: ${sentence}`)
    await ensureRoles(config.ADMIN_DATABASE_URL, passwordsOf(config), say)
    await applyMigrations(config.ADMIN_DATABASE_URL, { onStep: say })
    return 0
  } catch (error) {
    console.error(`db:migrate: ${error instanceof Error ? error.message : String(error)}`)
    return 1
  }
}

function passwordsOf(config: Config): Partial<Record<LoginRole, string>> {
  const urls: [LoginRole, string | undefined][] = [
    ['app', config.DATABASE_URL],
    ['team', config.TEAM_DATABASE_URL],
    ['sealer', config.SEALER_DATABASE_URL],
  ]
  return Object.fromEntries(urls.flatMap(([role, url]) => (url === undefined ? [] : [[role, passwordOf(role, url)]])))
}

function passwordOf(role: LoginRole, text: string): string {
  const url = new URL(text)
  if (decodeURIComponent(url.username) !== LOGIN_ROLES[role])
    throw new MigrateError(
      `The ${role} URL logs in as "${url.username}"; it must be ${LOGIN_ROLES[role]}, which owns nothing.`,
    )
  return decodeURIComponent(url.password)
}

if (import.meta.main) process.exitCode = await run(process.argv.slice(2))

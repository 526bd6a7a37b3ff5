/** What a machine without Postgres and without an issuer gets: both, kept in the data directory, roles and schema made. */
import { randomBytes } from 'node:crypto'
import { mkdir } from 'node:fs/promises'
import { dirname, join, resolve } from 'node:path'
import type { Config } from '../config.ts'
import { applyMigrations } from '../store/migrate/apply-migrations.ts'
import { ensureRoles, loginUrl, type LoginRole } from '../store/migrate/ensure-roles.ts'
import { openEmbeddedIssuer, type EmbeddedIssuer } from './issuer.ts'
import { keptSecret } from './kept-secret.ts'
import { startEmbeddedPostgres, type EmbeddedPostgres } from './postgres.ts'

export interface EmbeddedMachine {
  /** Superuser: for operators' work. */
  readonly adminUrl: string
  readonly urls: Readonly<Record<LoginRole, string>>
  readonly issuer: EmbeddedIssuer
  /** DATA_DIR of what runs on it. */
  readonly directory: string
  readonly stop: () => Promise<void>
}

type MachineConfig = Pick<Config, 'DATA_DIR' | 'AUDIENCE' | 'NODE_ENV'>

export async function startEmbeddedMachine(
  config: MachineConfig,
  onStep: (sentence: string) => void = () => {},
): Promise<EmbeddedMachine> {
  const directory = resolve(config.DATA_DIR)
  await mkdir(directory, { recursive: true })
  const postgres = await startEmbeddedPostgres({ directory: join(directory, 'postgres'), onStep })
  return furnish(postgres, directory, config, onStep)
}

/** Of this run alone: nothing is left of it, not even after a kill, since everything lies beside its cluster. */
export async function startTemporaryMachine(
  config: Omit<MachineConfig, 'DATA_DIR'>,
  onStep: (sentence: string) => void = () => {},
): Promise<EmbeddedMachine> {
  const postgres = await startEmbeddedPostgres({ onStep })
  const directory = dirname(postgres.dataDirectory)
  return furnish(postgres, directory, { ...config, DATA_DIR: directory }, onStep)
}

async function furnish(
  postgres: EmbeddedPostgres,
  directory: string,
  config: MachineConfig,
  onStep: (sentence: string) => void,
): Promise<EmbeddedMachine> {
  try {
    const issuer = await embeddedIssuerOf(config)
    const passwords = await keptPasswords(join(directory, 'database-passwords.json'))
    await ensureRoles(postgres.adminUrl, passwords, onStep)
    await applyMigrations(postgres.adminUrl, { onStep })
    const url = (role: LoginRole) => loginUrl(postgres.adminUrl, role, passwords[role])
    return {
      adminUrl: postgres.adminUrl,
      urls: { app: url('app'), team: url('team'), sealer: url('sealer') },
      issuer,
      directory,
      stop: () => postgres.stop(),
    }
  } catch (error) {
    await postgres.stop()
    throw error
  }
}

export async function embeddedIssuerOf(config: MachineConfig): Promise<EmbeddedIssuer> {
  return openEmbeddedIssuer({
    directory: join(resolve(config.DATA_DIR), 'issuer'),
    audience: config.AUDIENCE,
    environment: config.NODE_ENV,
  })
}

/** Kept, because a second process may attach to the same server and must not change the passwords of the first. */
async function keptPasswords(path: string): Promise<Record<LoginRole, string>> {
  const make = () => randomBytes(24).toString('base64url')
  const text = await keptSecret(path, async () => JSON.stringify({ app: make(), team: make(), sealer: make() }))
  return JSON.parse(text) as Record<LoginRole, string>
}

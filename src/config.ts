/** The only reader of process.env: parsed once at start, wrong values named in one sentence each. */
import { z } from 'zod'

const issuer = z.strictObject({
  issuer: z.string().min(1),
  jwksUrl: z.url().optional(),
  jwksFile: z.string().optional(),
  /** Marks the issuer of a machine that has none; refused when NODE_ENV=production. */
  development: z.boolean().optional(),
})

export type IssuerConfig = z.infer<typeof issuer>

const schema = z.object({
  NODE_ENV: z.enum(['development', 'test', 'production']).default('development'),
  HOST: z.string().default('127.0.0.1'),
  /** all: requests and sealing in one process. In production the sealer may be a process of its own, one or several. */
  ROLE: z.enum(['all', 'service', 'sealer']).default('all'),
  PORT: z.coerce.number().int().min(0).max(65535).default(8080),
  /** Absent outside production: an embedded Postgres is started. */
  DATABASE_URL: z.string().optional(),
  /** Where DATABASE_URL goes through a pooler: the same login, directly, for the one connection that listens. */
  LISTEN_DATABASE_URL: z.string().optional(),
  TEAM_DATABASE_URL: z.string().optional(),
  SEALER_DATABASE_URL: z.string().optional(),
  ADMIN_DATABASE_URL: z.string().optional(),
  DATA_DIR: z.string().default('.data'),
  ISSUERS: z
    .string()
    .default('[]')
    .transform((text, ctx): unknown => {
      try {
        return JSON.parse(text)
      } catch {
        ctx.addIssue({ code: 'custom', message: 'must be a JSON array of {issuer, jwksUrl | jwksFile}' })
        return z.NEVER
      }
    })
    .pipe(z.array(issuer)),
  AUDIENCE: z.string().min(1).default('limb-ledger'),
  /** A directory outside the database, best on another machine: one append-only file per clinic. */
  WITNESS_FILE: z.string().optional(),
  /** Longest time between two looks for events to seal. */
  SEAL_INTERVAL_MS: z.coerce.number().int().min(50).max(60_000).default(500),
  SIGNING_KEY_FILE: z.string().optional(),
  SUBJECT_KEY_FILE: z.string().optional(),
  /** The secrets that reports are signed from, newest first; limb-ledger new-report-key makes them. */
  REPORT_KEYS_FILE: z.string().optional(),
  /** GraphQL operations by key; where it is given no others are run. */
  GRAPHQL_PERSISTED_FILE: z.string().optional(),
  LOG_LEVEL: z.enum(['fatal', 'error', 'warn', 'info', 'debug', 'trace', 'silent']).default('info'),
  /** Connections for teams, beside those of POOL_SIZE for clinics. */
  TEAM_POOL_SIZE: z.coerce.number().int().min(1).max(200).default(4),
  POOL_SIZE: z.coerce.number().int().min(2).max(200).default(10),
  WORKERS: z.coerce.number().int().min(1).max(64).default(1),
})

export type Config = z.infer<typeof schema>

export class ConfigError extends Error {}

export function readConfig(env: Readonly<Record<string, string | undefined>>): Config {
  const parsed = schema.safeParse(env)
  if (!parsed.success) {
    const what = parsed.error.issues.map((i) => `${i.path.join('.')}: ${i.message}`).join('; ')
    throw new ConfigError(`The environment is not acceptable: ${what}.`)
  }
  const config = parsed.data
  if (config.NODE_ENV === 'production') {
    const missing = (
      [
        'DATABASE_URL',
        'TEAM_DATABASE_URL',
        'SEALER_DATABASE_URL',
        'WITNESS_FILE',
        'SIGNING_KEY_FILE',
        'SUBJECT_KEY_FILE',
        'REPORT_KEYS_FILE',
      ] as const
    ).filter((name) => config[name] === undefined)
    if (missing.length > 0) throw new ConfigError(`In production these must be set: ${missing.join(', ')}.`)
    if (config.ISSUERS.length === 0) throw new ConfigError('In production ISSUERS must name at least one token issuer.')
    if (config.ISSUERS.some((i) => i.development === true))
      throw new ConfigError('The development issuer is refused in production.')
  }
  return config
}

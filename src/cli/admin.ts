/** What the commands of an operator share: options, the connection as owner, one JSON line out, one sentence on failure. */
import { parseArgs } from 'node:util'
import { readConfig, type Config } from '../config.ts'
import { withOwner, type OwnerClient } from '../store/admin-store.ts'

/** A wrong or missing option: exit code 2. */
export class UsageError extends Error {}

export interface Options {
  /** Given, and not empty. */
  readonly need: (name: string) => string
  readonly needUuid: (name: string) => string
  readonly maybe: (name: string) => string | undefined
  readonly all: (name: string) => readonly string[]
}

export interface OperatorCommand {
  readonly name: string
  readonly help: string
  readonly options: readonly string[]
}

/** Runs a command on the database of ADMIN_DATABASE_URL, or on the embedded one where there is none. */
export async function runAsOwner(
  argv: readonly string[],
  command: OperatorCommand,
  act: (client: OwnerClient, options: Options, config: Config) => Promise<Readonly<Record<string, unknown>>>,
): Promise<number> {
  return runCommand(argv, command, async (options, configured) => {
    const config = configured()
    const url = config.ADMIN_DATABASE_URL
    if (url !== undefined) return JSON.stringify(await withOwner(url, (client) => act(client, options, config)))
    // Where a server is named, what is asked for belongs there and not into an embedded one that nobody would look into.
    if (config.NODE_ENV === 'production' || config.DATABASE_URL !== undefined) {
      throw new UsageError('ADMIN_DATABASE_URL is not set: this is done with the login that owns the database.')
    }
    const { startEmbeddedMachine } = await import('../embedded/machine.ts')
    const machine = await startEmbeddedMachine(config)
    try {
      return JSON.stringify(await withOwner(machine.adminUrl, (client) => act(client, options, config)))
    } finally {
      await machine.stop()
    }
  })
}

export async function runCommand(
  argv: readonly string[],
  { name, help, options }: OperatorCommand,
  /** Asks for the configuration if it needs one: keys are made before there can be any. */
  act: (options: Options, config: () => Config) => Promise<string>,
): Promise<number> {
  if (argv.some((word) => word === '--help' || word === '-h')) {
    console.log(help)
    return 0
  }
  try {
    console.log(await act(readOptions(argv, options), () => readConfig(process.env)))
    return 0
  } catch (error) {
    console.error(`limb-ledger ${name}: ${error instanceof Error ? error.message : String(error)}`)
    return error instanceof UsageError ? 2 : 1
  }
}

function readOptions(argv: readonly string[], names: readonly string[]): Options {
  const values = parse(argv, names)
  const all = (name: string): readonly string[] => values[name] ?? []
  const maybe = (name: string): string | undefined => {
    if (all(name).length > 1) throw new UsageError(`--${name} is given more than once.`)
    return all(name)[0]
  }
  const need = (name: string): string => {
    const value = maybe(name)
    if (value === undefined || value.trim() === '') throw new UsageError(`--${name} is needed.`)
    return value
  }
  const needUuid = (name: string): string => {
    const value = need(name)
    if (!/^[0-9a-f]{8}(-[0-9a-f]{4}){3}-[0-9a-f]{12}$/i.test(value)) throw new UsageError(`--${name} wants a UUID.`)
    return value.toLowerCase()
  }
  return { need, needUuid, maybe, all }
}

function parse(argv: readonly string[], names: readonly string[]): Readonly<Record<string, readonly string[]>> {
  const options = Object.fromEntries(names.map((name) => [name, { type: 'string' as const, multiple: true }]))
  try {
    return parseArgs({ args: [...argv], options, allowPositionals: false }).values as Record<string, string[]>
  } catch (error) {
    throw new UsageError((error as Error).message)
  }
}

/** The one configured issuer; the embedded one where none is configured. */
export async function issuerOf(options: Options, config: Config): Promise<string> {
  const given = options.maybe('issuer')
  if (given !== undefined) return given
  const [first, ...others] = config.ISSUERS
  if (first !== undefined && others.length === 0) return first.issuer
  if (first === undefined && config.NODE_ENV !== 'production')
    return (await import('../embedded/issuer.ts')).EMBEDDED_ISSUER
  throw new UsageError('--issuer is needed.')
}

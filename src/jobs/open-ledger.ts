/** Keys, witness and connection of the ledger, from the configuration; and the check that lets the process start. */
import { mkdir, readFile } from 'node:fs/promises'
import { dirname, join, resolve } from 'node:path'
import pg from 'pg'
import { ConfigError, type Config } from '../config.ts'
import type { LedgerAccess } from '../ledger/access.ts'
import { LedgerAlarm } from '../ledger/alarm.ts'
import { alarmInWords, checkClinics } from '../ledger/check-clinics.ts'
import { makeKeyRingText, readKeyRing, type KeyRing } from '../ledger/subject-keys.ts'
import { makeSigningKeyPem, readSigningKeys } from '../ledger/tree-head.ts'
import { FileWitness, WitnessUnavailable } from '../ledger/witness.ts'

type LedgerConfig = Pick<Config, 'NODE_ENV' | 'DATA_DIR' | 'WITNESS_FILE' | 'SIGNING_KEY_FILE' | 'SUBJECT_KEY_FILE'>

/** Few: the sealer works through the clinics one after the other, and beside it a seal or a verification on demand. */
const SEALER_CONNECTIONS = 4
const LOCK_WAIT_MS = 10_000

export async function openLedger(
  config: LedgerConfig,
  sealerUrl: string,
  onPoolError: (error: Error) => void,
): Promise<LedgerAccess & { readonly close: () => Promise<void> }> {
  const signingKeys = await readKeyFile(
    config,
    'SIGNING_KEY_FILE',
    'signing-key.pem',
    makeSigningKeyPem,
    readSigningKeys,
  )
  const sealerPool = new pg.Pool({
    connectionString: sealerUrl,
    max: SEALER_CONNECTIONS,
    connectionTimeoutMillis: 5_000,
    application_name: 'limb-ledger sealer',
  })
  sealerPool.on('error', onPoolError)
  return {
    sealerPool,
    deps: {
      ...signingKeys,
      witness: new FileWitness(resolve(config.WITNESS_FILE ?? join(config.DATA_DIR, 'ledger', 'witness'))),
      now: () => new Date(),
    },
    close: () => sealerPool.end(),
  }
}

export const openSubjectKeys = (config: LedgerConfig): Promise<KeyRing> =>
  readKeyFile(config, 'SUBJECT_KEY_FILE', 'subject-keys', makeKeyRingText, readKeyRing)

/** Throws ConfigError with what a person has to know: a process whose ledger is in doubt does not start. */
export async function refuseToStartOnAlarm({ sealerPool, deps }: LedgerAccess): Promise<void> {
  try {
    await checkClinics({ sealerPool, deps: { ...deps, waitForLockMs: LOCK_WAIT_MS } })
  } catch (error) {
    if (error instanceof LedgerAlarm) throw new ConfigError(alarmInWords(error))
    if (error instanceof WitnessUnavailable) throw new ConfigError(`The witness of the audit log cannot be read (${error.message}): see WITNESS_FILE.`) // prettier-ignore
    throw error
  }
}

/** Made on the first start of a machine that has none; in production a key that is not there is a mistake. */
export async function readKeyFile<T, Name extends 'SIGNING_KEY_FILE' | 'SUBJECT_KEY_FILE' | 'REPORT_KEYS_FILE'>(
  config: Pick<Config, 'NODE_ENV' | 'DATA_DIR' | Name>,
  name: Name,
  fallback: string,
  make: () => string,
  read: (text: string) => T,
): Promise<T> {
  const path = resolve(config[name] ?? join(config.DATA_DIR, 'ledger', fallback))
  try {
    return read(config.NODE_ENV === 'production' ? await readFile(path, 'utf8') : await kept(path, make))
  } catch (error) {
    throw new ConfigError(`${name} cannot be used: ${error instanceof Error ? error.message : String(error)}.`)
  }
}

async function kept(path: string, make: () => string): Promise<string> {
  await mkdir(dirname(path), { recursive: true })
  const { keptSecret } = await import('../embedded/kept-secret.ts')
  return keptSecret(path, () => Promise.resolve(make()))
}

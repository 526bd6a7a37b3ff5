/** A ledger for a test service: keys and witness of its own, sealing as the service does it. */
import { mkdtemp, readFile, rm } from 'node:fs/promises'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { afterAll } from 'vitest'
import { openLedger } from '../../src/jobs/open-ledger.ts'
import type { LedgerAccess } from '../../src/ledger/access.ts'
import type { TestDatabase } from './test-database.ts'

export interface TestLedger extends LedgerAccess {
  readonly directory: string
  /** The file that the witness keeps for a clinic. */
  readonly witnessFile: (clinicId: string) => string
  /** Keys and witness as the service's configuration names them. */
  readonly environment: Readonly<Record<'WITNESS_FILE' | 'SIGNING_KEY_FILE' | 'SUBJECT_KEY_FILE', string>>
  readonly signingKey: () => Promise<string>
}

export async function makeTestLedger(database: TestDatabase): Promise<TestLedger> {
  const directory = await mkdtemp(join(tmpdir(), 'limb-ledger-ledger-'))
  const environment = {
    WITNESS_FILE: join(directory, 'witness'),
    SIGNING_KEY_FILE: join(directory, 'signing-key.pem'),
    SUBJECT_KEY_FILE: join(directory, 'subject-keys'),
  }
  const config = { NODE_ENV: 'test', DATA_DIR: directory, ...environment } as const
  const ledger = await openLedger(config, database.sealerUrl, () => undefined)
  afterAll(async () => {
    await ledger.close()
    await rm(directory, { recursive: true, force: true })
  })
  return {
    ...ledger,
    directory,
    environment,
    witnessFile: (clinicId) => join(environment.WITNESS_FILE, `${clinicId}.ndjson`),
    signingKey: () => readFile(environment.SIGNING_KEY_FILE, 'utf8'),
  }
}

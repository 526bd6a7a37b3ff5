import { chmodSync, mkdtempSync, rmSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { afterAll, describe, expect, it, vi } from 'vitest'
import { readConfig } from '../src/config.ts'
import { makeService } from '../src/service.ts'
import type * as tenancyDatabase from '../src/tenancy/database.ts'
import { testDatabase } from './harness/test-database.ts'

// A connection that breaks as soon as there is a pool, before the service is put together.
vi.mock('../src/tenancy/database.ts', async (original) => {
  const real = await original<typeof tenancyDatabase>()
  const open: typeof real.openDatabase = (url, options) => {
    const database = real.openDatabase(url, options)
    options.onPoolError?.(new Error('terminating connection due to administrator command'))
    return database
  }
  return { ...real, openDatabase: open }
})

const database = await testDatabase()
const directory = mkdtempSync(join(tmpdir(), 'limb-ledger-test-'))
chmodSync(directory, 0o711)
afterAll(() => rmSync(directory, { recursive: true, force: true }))

describe('a service that is being put together', () => {
  it('survives a connection that breaks before there is a log to say it in', async () => {
    const env = { NODE_ENV: 'test', PORT: '0', LOG_LEVEL: 'silent', DATA_DIR: directory, DATABASE_URL: database.appUrl, TEAM_DATABASE_URL: database.teamUrl } // prettier-ignore
    const service = await makeService(readConfig(env), { machine: null })
    try {
      expect((await service.app.inject('/readyz')).statusCode).toBe(200)
    } finally {
      await service.close()
    }
  })
})

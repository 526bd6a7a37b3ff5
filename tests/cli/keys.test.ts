import { mkdtemp, readFile, rm, stat } from 'node:fs/promises'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { afterEach, beforeEach, describe, expect, it, vi } from 'vitest'
import { openReportKeys } from '../../src/application/reports/report-keys.ts'
import { run } from '../../src/cli/limb-ledger.ts'
import { readKeyRing } from '../../src/ledger/subject-keys.ts'
import { readSigningKeys } from '../../src/ledger/tree-head.ts'

const CLINIC = '0195f1d0-0000-7000-8000-000000000001'

let directory: string
beforeEach(async () => {
  directory = await mkdtemp(join(tmpdir(), 'limb-ledger-keys-'))
  vi.spyOn(console, 'log').mockImplementation(() => undefined)
  vi.spyOn(console, 'error').mockImplementation(() => undefined)
  // As in the image, before there is any configuration: it needs the keys that are made here.
  vi.stubEnv('NODE_ENV', 'production')
})
afterEach(async () => {
  vi.useRealTimers()
  vi.restoreAllMocks()
  vi.unstubAllEnvs()
  await rm(directory, { recursive: true })
})

describe('make-keys', () => {
  it('makes a signing key and a subject key for their owner alone, and overwrites neither', async () => {
    const [signing, subjects] = [join(directory, 'signing-key.pem'), join(directory, 'subject-keys')]
    const argv = ['make-keys', '--signing-key', signing, '--subject-keys', subjects]
    expect(await run(argv)).toBe(0)
    const pem = await readFile(signing, 'utf8')
    expect(readSigningKeys(pem).trustedKeys.keys).toHaveLength(1)
    expect(readKeyRing(await readFile(subjects, 'utf8')).current.key).toHaveLength(32)
    for (const path of [signing, subjects]) expect((await stat(path)).mode & 0o777).toBe(0o600)
    expect(await run(argv)).toBe(1)
    expect(await readFile(signing, 'utf8')).toBe(pem)
  })
})

describe('new-report-key', () => {
  it('makes the file for its owner alone, then puts a new key before those that verify older reports', async () => {
    const file = join(directory, 'report-keys.json')
    const keysOf = async () => (await openReportKeys(await readFile(file, 'utf8')).publicKeys(CLINIC)).keys
    vi.useFakeTimers({ toFake: ['Date'], now: new Date('2026-03-03T09:00:00Z') })
    expect(await run(['new-report-key', '--file', file])).toBe(0)
    const before = await keysOf()
    expect(before).toHaveLength(1)
    expect((await stat(file)).mode & 0o777).toBe(0o600)
    vi.setSystemTime(new Date('2027-03-03T09:00:00Z'))
    expect(await run(['new-report-key', '--file', file])).toBe(0)
    const [newest, ...older] = await keysOf()
    expect(older).toEqual(before)
    expect(newest).not.toEqual(before[0])
  })
})

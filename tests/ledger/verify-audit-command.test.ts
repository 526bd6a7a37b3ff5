import { mkdtemp, rm, writeFile } from 'node:fs/promises'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { afterAll, afterEach, beforeEach, describe, expect, it, vi } from 'vitest'
import { run } from '../../src/cli/verify-audit.ts'
import { BuiltLog } from './built-log.ts'

const log = new BuiltLog().append(4).seal().append(2).seal()
const directory = await mkdtemp(join(tmpdir(), 'limb-ledger-verify-'))
afterAll(() => rm(directory, { recursive: true, force: true }))

const path = (name: string): string => join(directory, name)
await writeFile(path('export.ndjson'), log.export().join('\n') + '\n')
await writeFile(path('keys.json'), JSON.stringify({ keys: [log.signer.publicJwk] }))
await writeFile(path('witness.ndjson'), log.witnessLines().join('\n') + '\n')
await writeFile(path('edited.ndjson'), log.export().join('\n').replace('session.read', 'session.make') + '\n')
await writeFile(path('torn-witness.ndjson'), log.witnessLines().slice(1).join('\n') + '\n')

let out: string[]
let err: string[]
beforeEach(() => {
  out = []
  err = []
  vi.spyOn(console, 'log').mockImplementation((text: string) => void out.push(text))
  vi.spyOn(console, 'error').mockImplementation((text: string) => void err.push(text))
})
afterEach(() => void vi.restoreAllMocks())

describe('limb-ledger verify-audit', () => {
  it('answers 0 and what it read for a log that is intact', async () => {
    const asked = [path('export.ndjson'), '--keys', path('keys.json'), '--witness', path('witness.ndjson')]
    expect(await run(asked)).toBe(0)
    expect(out.join('\n')).toContain('The log is intact.')
    expect(out.join('\n')).toContain('6 entries and 3 signed heads')
    expect(out.join('\n')).toContain('Compared with the witness through epoch 1, sequence 6.')
  })

  it('says what it cannot know without a witness', async () => {
    expect(await run([path('export.ndjson'), '--keys', path('keys.json')])).toBe(0)
    expect(out.join('\n')).toContain('No witness was given')
  })

  it('answers 1 and names the first bad entry', async () => {
    expect(await run([path('edited.ndjson'), '--keys', path('keys.json')])).toBe(1)
    expect(out.join('\n')).toContain('The log is broken.')
    expect(out.join('\n')).toContain('First bad entry: epoch 1, sequence 1 (line 3 of the export).')
  })

  it('prints the report as JSON on demand', async () => {
    expect(await run([path('edited.ndjson'), '--keys', path('keys.json'), '--json'])).toBe(1)
    expect(JSON.parse(out.join('\n'))).toMatchObject({ verdict: 'broken', firstBad: { sequence: 1 } })
  })

  it.each([
    ['no file', ['--keys', path('keys.json')]],
    ['no keys', [path('export.ndjson')]],
    ['an unknown option', [path('export.ndjson'), '--key', path('keys.json')]],
    ['two files', [path('export.ndjson'), path('export.ndjson'), '--keys', path('keys.json')]],
    ['a file that is not there', [path('nowhere.ndjson'), '--keys', path('keys.json')]],
    ['keys that are none', [path('export.ndjson'), '--keys', path('export.ndjson')]],
    [
      'a witness that does not hold together',
      [path('export.ndjson'), '--keys', path('keys.json'), '--witness', path('torn-witness.ndjson')],
    ],
  ])('answers 2, not a verdict, for %s', async (_, asked) => {
    expect(await run(asked)).toBe(2)
    expect(out).toEqual([])
    expect(err.join('\n')).toMatch(/^limb-ledger verify-audit: /)
  })

  it('tells its options', async () => {
    expect(await run(['--help'])).toBe(0)
    expect(out.join('\n')).toContain('--witness')
  })
})

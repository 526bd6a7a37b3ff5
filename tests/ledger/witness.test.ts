import { randomUUID } from 'node:crypto'
import {
  appendFile,
  mkdtemp,
  open,
  readdir,
  readFile,
  rm,
  truncate,
  utimes,
  writeFile,
  type FileHandle,
} from 'node:fs/promises'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { afterEach, beforeEach, describe, expect, it, vi } from 'vitest'
import type { WitnessRecord } from '../../src/ledger/witness.ts'
import { FileWitness, WitnessConflict, WitnessDamaged } from '../../src/ledger/witness.ts'
import { BuiltLog } from './built-log.ts'

let directory: string
let witness: FileWitness
beforeEach(async () => {
  directory = await mkdtemp(join(tmpdir(), 'limb-ledger-witness-'))
  witness = new FileWitness(directory)
})
afterEach(() => rm(directory, { recursive: true, force: true }))

const log = new BuiltLog().append(3).seal().append(700).seal().append(2).seal()
const [opening, three, many, last] = log.witness as [WitnessRecord, WitnessRecord, WitnessRecord, WitnessRecord]
const file = (): string => join(directory, `${log.clinicId}.ndjson`)

async function appendAll(records: WitnessRecord[]): Promise<void> {
  for (const record of records) await witness.append(record)
}
async function readAll(of = witness): Promise<WitnessRecord[]> {
  const all: WitnessRecord[] = []
  for await (const record of of.all(log.clinicId)) all.push(record)
  return all
}

describe('the file witness', () => {
  it('knows nothing of a clinic that never had a head', async () => {
    expect(await witness.last(randomUUID())).toBeNull()
    expect(await readAll()).toEqual([])
  })

  it('gives back what it was given, in order, to a process that comes later', async () => {
    await appendAll(log.witness)
    const later = new FileWitness(directory)
    expect(await readAll(later)).toEqual(log.witness)
    expect(await later.last(log.clinicId)).toEqual(last)
  })

  it('finds the last head behind a line longer than what it reads at once', async () => {
    const long = new BuiltLog(log.signer, log.clinicId).append(3_000).seal()
    await appendAll(long.witness)
    expect((await readFile(file())).length).toBeGreaterThan(65_536)
    expect((await witness.last(log.clinicId))?.head.size).toBe(3_000)
  })

  it('takes the same head twice as once', async () => {
    await appendAll([opening, three])
    expect(await witness.append(three)).toEqual(three)
    expect(await readAll()).toEqual([opening, three])
  })

  it('keeps clinics in files of their own', async () => {
    const other = new BuiltLog(log.signer)
    await appendAll([opening, ...other.witness])
    expect((await readdir(directory)).sort()).toEqual([`${log.clinicId}.ndjson`, `${other.clinicId}.ndjson`].sort())
    expect(await witness.last(other.clinicId)).toEqual(other.witness[0])
  })

  it.each([
    ['an older head', () => [opening, three, many], () => three],
    ['a head that skips one', () => [opening], () => many],
    ['a first head that opens nothing', () => [], () => three],
    [
      'another root for the same size',
      () => [opening, three],
      () => ({ ...three, head: { ...three.head, rootHash: 'ff'.repeat(32) } }),
    ],
    ['leaf hashes that do not add up', () => [opening], () => ({ ...three, leafHashes: three.leafHashes.slice(1) })],
    ['an epoch that was open before', () => [opening, three], () => new BuiltLog(log.signer, log.clinicId).witness[0]!],
  ])('refuses %s and leaves no trace of it', async (_, before, bad) => {
    await appendAll(before())
    await expect(witness.append(bad())).rejects.toThrow(WitnessConflict)
    expect(await readAll()).toEqual(before())
  })

  it('refuses a clinic id that is a path', async () => {
    await expect(witness.last('../../../../etc/some-file-or-other-xx')).rejects.toThrow(RangeError)
  })

  it('passes over the remnant of a write that a crash cut short, and goes on behind it', async () => {
    await appendAll([opening, three])
    await appendFile(file(), '{"head":"eyJhbGci')
    expect(await witness.last(log.clinicId)).toEqual(three)
    await witness.append(many)
    expect(await readAll()).toEqual([opening, three, many])
  })

  it('counts a line that lacks only its newline', async () => {
    await appendAll([opening, three])
    await truncate(file(), (await readFile(file())).length - 1)
    expect(await witness.last(log.clinicId)).toEqual(three)
    await witness.append(many)
    expect(await readAll()).toEqual([opening, three, many])
  })

  it.each([
    ['a line was removed', (lines: string[]) => lines.toSpliced(1, 1)],
    ['the first line was removed', (lines: string[]) => lines.slice(1)],
    ['two lines were exchanged', ([a, b, c, d]: string[]) => [a!, c!, b!, d!]],
    ['a line was made unreadable', ([a, b, ...rest]: string[]) => [a!, b!.slice(0, -10), ...rest]],
    [
      'a leaf hash was removed',
      ([a, b, ...rest]: string[]) => [a!, b!.replace(/"leafHashes":"[\w-]+"/, '"leafHashes":""'), ...rest],
    ],
  ])('says so when %s', async (_, alter) => {
    await appendAll(log.witness)
    const lines = (await readFile(file(), 'utf8')).trimEnd().split('\n')
    await writeFile(file(), alter(lines).join('\n') + '\n')
    await expect(readAll()).rejects.toThrow(WitnessDamaged)
  })

  it('lets writers of one head in at the same time, and keeps one line', async () => {
    await witness.append(opening)
    const writers = Array.from({ length: 8 }, () => new FileWitness(directory).append(three))
    await Promise.all(writers)
    expect(await readAll()).toEqual([opening, three])
    expect((await readFile(file(), 'utf8')).trimEnd().split('\n')).toHaveLength(2)
  })

  it('takes over a lock whose owner is gone', async () => {
    await witness.append(opening)
    const lock = `${file()}.lock`
    await writeFile(lock, 'somebody that died')
    const longAgo = new Date(Date.now() - 60_000)
    await utimes(lock, longAgo, longAgo)
    await witness.append(three)
    expect(await readAll()).toEqual([opening, three])
    expect(await readdir(directory)).toEqual([`${log.clinicId}.ndjson`])
  })
})

describe('a head counts only once it is on the disk', () => {
  /** What all open files share: what is written and synced, in order. */
  async function watched(): Promise<{ done: string[]; failing: (times: number) => void }> {
    const handle = await open(directory, 'r')
    const shared = Object.getPrototypeOf(handle) as FileHandle
    await handle.close()
    const done: string[] = []
    let failures = 0
    // eslint-disable-next-line @typescript-eslint/unbound-method -- called below with the handle that it was called on
    const { sync, appendFile } = shared
    vi.spyOn(shared, 'sync').mockImplementation(async function (this: FileHandle) {
      const what = (await this.stat()).isDirectory() ? 'directory' : 'file'
      if (failures > 0 && what === 'file') {
        failures -= 1
        throw Object.assign(new Error('i/o error'), { code: 'EIO' })
      }
      await sync.call(this)
      done.push(`synced the ${what}`)
    })
    vi.spyOn(shared, 'appendFile').mockImplementation(async function (this: FileHandle, data) {
      await appendFile.call(this, data)
      done.push('wrote')
    })
    return { done, failing: (times) => void (failures = times) }
  }
  afterEach(() => void vi.restoreAllMocks())

  it('written, then synced; the first one of a clinic with its name in the directory, and the directory with its own', async () => {
    const { done } = await watched()
    await new FileWitness(join(directory, 'new', 'witness')).append(opening)
    expect(done).toEqual(['synced the directory', 'wrote', 'synced the file', 'synced the directory'])
    done.length = 0
    await witness.append(opening)
    expect(done).toEqual(['wrote', 'synced the file', 'synced the directory'])
    done.length = 0
    await witness.append(three)
    expect(done).toEqual(['wrote', 'synced the file'])
  })

  it('found there already, of somebody who may have died before the sync, it is synced again, its name as well', async () => {
    await witness.append(opening)
    const { done } = await watched()
    expect(await new FileWitness(directory).append(opening)).toEqual(opening)
    expect(done).toEqual(['synced the file', 'synced the directory'])
  })

  // After a sync that failed the system may call the lost pages clean, and the next sync says that all is well.
  it('not synced it is taken out again, so that the next try writes it anew', async () => {
    await appendAll([opening, three])
    const { done, failing } = await watched()
    failing(1)
    await expect(witness.append(many)).rejects.toThrow('i/o error')
    expect(await witness.last(log.clinicId)).toEqual(three)
    done.length = 0
    await witness.append(many)
    expect(done).toEqual(['wrote', 'synced the file'])
    expect(await readAll()).toEqual([opening, three, many])
  })
})

import { mkdtemp, rm, writeFile } from 'node:fs/promises'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { afterAll, afterEach, beforeAll, beforeEach, describe, expect, it, vi } from 'vitest'
import { run } from '../../src/cli/limb-ledger.ts'
import { recorded, makeWorld, type World } from '../application/sessions/documents.ts'
import { makeTestService } from '../harness/clinic.ts'
import { testDatabase } from '../harness/test-database.ts'

const database = await testDatabase()
const service = await makeTestService(database)
let world: World
let folder: string
beforeAll(async () => {
  world = await makeWorld(service)
  await world.push(recorded(world.visit('2026-06-02', { sides: ['right'] })))
  folder = await mkdtemp(join(tmpdir(), 'limb-ledger-reanalyse-'))
})
afterAll(() => rm(folder, { recursive: true, force: true }))

beforeEach(() => {
  vi.stubEnv('DATABASE_URL', database.appUrl)
  vi.stubEnv('NODE_ENV', 'test')
  vi.stubEnv('WORKERS', '1')
})
afterEach(() => {
  vi.unstubAllEnvs()
  vi.restoreAllMocks()
})

async function command(...argv: string[]): Promise<{ code: number; out: string[]; err: string }> {
  const out: string[] = []
  const err: string[] = []
  vi.spyOn(console, 'log').mockImplementation((text: string) => void out.push(text))
  vi.spyOn(console, 'error').mockImplementation((text: string) => void err.push(text))
  const code = await run(['reanalyse', ...argv])
  vi.restoreAllMocks()
  return { code, out, err: err.join('\n') }
}

async function choices(text: string): Promise<string> {
  const file = join(folder, 'choices.json')
  await writeFile(file, text)
  return file
}

describe('limb-ledger reanalyse', () => {
  it('prints old -> new in a dry run, then does it, then has nothing left to do', async () => {
    const file = await choices('{ "workWindow": "full_range" }')
    const clinic = ['--clinic', world.clinic.clinicId, '--parameters', file] as const
    const dry = await command(...clinic, '--dry-run', 'yes')
    expect(dry.code, dry.err).toBe(0)
    expect(dry.out.some((line) => /right knee\/extension\/.* workPerRepetition best: [\d.]+ -> [\d.]+ J$/.test(line))).toBe(true) // prettier-ignore
    expect(JSON.parse(dry.out.at(-1)!)).toEqual({ dryRun: true, sets: 1, moved: 1, unchanged: 0, overtaken: 0, failed: 0 }) // prettier-ignore
    const done = await command(...clinic)
    expect(done.code, done.err).toBe(0)
    expect(done.out.slice(0, -1)).toEqual(dry.out.slice(0, -1))
    expect(JSON.parse((await command(...clinic)).out.at(-1)!)).toMatchObject({ dryRun: false, sets: 0 })
  })

  it('names no person in what it prints', async () => {
    const { out } = await command('--clinic', world.clinic.clinicId, '--dry-run', 'yes')
    expect(out.join('\n')).not.toContain('Avery')
  })

  it.each([
    ['no clinic', [], '--clinic is needed'],
    ['a clinic that is no id', ['--clinic', 'riverbend'], '--clinic wants a UUID'],
    [
      'a limit that is no number',
      ['--clinic', '0191d5a2-0000-7000-8000-000000000000', '--limit', '0'],
      '--limit wants',
    ],
    ['a dry run by another word', ['--clinic', '0191d5a2-0000-7000-8000-000000000000', '--dry-run', 'maybe'], '--dry-run wants the word yes'], // prettier-ignore
  ])('refuses %s in one sentence, with exit code 2', async (_what, argv, words) => {
    const { code, err } = await command(...argv)
    expect([code, err.includes(words)]).toEqual([2, true])
  })

  it.each([
    ['a choice it does not know', '{ "window": "full_range" }', '#/window'],
    ['a unit of another kind', '{ "filter": { "kind": "butterworth_zero_phase", "cutoff": { "value": 12, "unit": "deg" } } }', '#/filter/cutoff/unit'], // prettier-ignore
    ['what is no JSON', '{ workWindow }', 'choices.json'],
  ])('refuses a file with %s', async (_what, text, words) => {
    const { code, err } = await command('--clinic', world.clinic.clinicId, '--parameters', await choices(text))
    expect([code, err.includes(words)], err).toEqual([2, true])
  })
})

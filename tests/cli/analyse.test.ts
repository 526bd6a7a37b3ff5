import { execFile } from 'node:child_process'
import { mkdtemp, rm, writeFile } from 'node:fs/promises'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { fileURLToPath } from 'node:url'
import { afterAll, beforeAll, describe, expect, it, vi } from 'vitest'
import { run } from '../../src/cli/limb-ledger.ts'
import type { Analysis } from '../../src/compute/index.ts'
import { recordingCsv } from '../../src/demo/recording-encodings.ts'
import { simulateRecording } from '../../src/demo/simulator/simulate-recording.ts'

/** Starting a process takes seconds on a busy machine. */
const WITH_PROCESS = { timeout: 60_000 }

const CLI = fileURLToPath(new URL('../../src/cli/bin.js', import.meta.url))
const simulated = simulateRecording({ seed: 3, repetitions: 4, torqueNoiseNm: 0.5 })

const DONE = ['--joint', 'knee', '--side', 'left', '--movement', 'extension,flexion', '--mode', 'isokinetic_concentric']
const READ = ['--torque-positive', 'extension', '--angle-positive', 'flexion', '--torque-state', 'measured']
const WEIGHED = ['--weighing-torque', '9.83 N.m', '--weighing-angle', '35 deg', '--body-position', 'seated']
const SPEED = ['--velocity', '60 deg/s']

interface Ended {
  readonly code: number
  readonly out: string
  readonly err: string
}

/** In this process; what the commands print is caught. */
async function limbLedger(...argv: readonly string[]): Promise<Ended> {
  const caught = { out: '', err: '' }
  const log = vi.spyOn(console, 'log').mockImplementation((line: string) => void (caught.out += `${line}\n`))
  const error = vi.spyOn(console, 'error').mockImplementation((line: string) => void (caught.err += `${line}\n`))
  try {
    return { code: await run(argv), ...caught }
  } finally {
    log.mockRestore()
    error.mockRestore()
  }
}

/** As a user starts it. */
function asProcess(...argv: readonly string[]): Promise<Ended> {
  return new Promise((resolve) => {
    execFile(process.execPath, [CLI, ...argv], { maxBuffer: 64 * 1024 * 1024 }, (error, out, err) => {
      resolve({ code: error === null ? 0 : Number(error.code), out, err })
    })
  })
}

let folder: string
const inFolder = async (name: string, content: string | Uint8Array): Promise<string> => {
  const file = join(folder, name)
  await writeFile(file, content)
  return file
}

beforeAll(async () => {
  folder = await mkdtemp(join(tmpdir(), 'limb-ledger-cli-'))
})
afterAll(() => rm(folder, { recursive: true, force: true }))

describe('limb-ledger', () => {
  it('lists its commands, and answers an unknown one with the list and code 2', async () => {
    const help = await limbLedger('--help')
    expect(help).toMatchObject({ code: 0, err: '' })
    expect(help.out).toContain('analyse')
    expect(help.out).toContain('verify-audit')
    expect((await limbLedger()).code).toBe(2)
    for (const word of ['no-such-command', 'constructor']) {
      const wrong = await limbLedger(word)
      expect(wrong).toMatchObject({ code: 2, out: '' })
      expect(wrong.err).toContain(`no command "${word}"`)
    }
  })
})

describe('limb-ledger analyse', () => {
  it('prints tables in which the simulated peak torque is found again', WITH_PROCESS, async () => {
    const file = await inFolder('good.csv', recordingCsv(simulated))
    const { code, out, err } = await limbLedger('analyse', file, ...DONE, ...READ, ...SPEED, ...WEIGHED)
    expect({ code, err }).toEqual({ code: 0, err: '' })
    expect(await asProcess('analyse', file, ...DONE, ...READ, ...SPEED, ...WEIGHED)).toEqual({ code, out, err })
    expect(out).toContain('left knee, 1000 Hz')
    expect(out).toContain('gravity corrected: yes')
    expect(out).toMatch(/extension, isokinetic concentric at 60 deg\/s: 4 of 4 repetitions counted/)
    expect(out).toMatch(/flexion, isokinetic concentric at 60 deg\/s: 4 of 4 repetitions counted/)
  })

  it('prints one JSON object on request, per body mass where the mass is given', async () => {
    const file = await inFolder('json.csv', `\uFEFF${recordingCsv(simulated)}`)
    const argv = [
      ...DONE,
      ...READ,
      ...SPEED,
      ...WEIGHED,
      '--body-mass',
      '150 [lb_av]',
      '--not-counted',
      '2:aborted',
      '--json',
    ]
    const { code, out } = await limbLedger('analyse', file, ...argv)
    expect(code).toBe(0)
    const { side, analysis } = JSON.parse(out) as { side: string; analysis: Analysis }
    expect(side).toBe('left')
    const [extension] = analysis.directions
    const best = Math.max(
      ...simulated.truth
        .filter(({ direction, repetition }) => direction.muscle === 'extension' && repetition !== 2)
        .map(({ peak }) => peak!.torqueNm),
    )
    expect(extension!.notCounted).toEqual([{ repetition: 2, reason: 'aborted' }])
    const peak = extension!.measures.peakTorque!.best!.value!
    expect(Math.abs(peak - best)).toBeLessThan(0.01 * best)
    expect(extension!.measures.peakTorquePerBodyMass!.best!.value).toBeCloseTo(peak / (150 * 0.45359237), 9)
  })

  it('says without a weighing that gravity is not corrected', async () => {
    const file = await inFolder('unweighed.csv', recordingCsv(simulated))
    const { code, out } = await limbLedger('analyse', file, ...DONE, ...READ, ...SPEED)
    expect(code).toBe(0)
    expect(out).toContain('gravity corrected: no')
  })

  it('names every fault of the command line at once', async () => {
    const { code, out, err } = await limbLedger(
      'analyse',
      ...['a.csv', '--joint', 'nose', '--movement', 'extension', '--mode', 'isokinetic_concentric'],
      ...['--velocity', '60', '--torque-positive', 'extension', '--angle-positive', 'flexion', '--body-mass', '70 Nm'],
    )
    expect({ code, out }).toEqual({ code: 2, out: '' })
    for (const part of [
      '--joint must be',
      '--side is needed',
      '--velocity needs',
      '--torque-state is needed',
      '--body-mass:',
    ]) {
      expect(err).toContain(part)
    }
    expect((await limbLedger('analyse', '--no-such-option')).code).toBe(2)
    expect((await limbLedger('analyse', '--help')).code).toBe(0)
  })

  const head = 'time (s),torque (N.m),angle (deg)'
  it.each([
    ['a semicolon', 'time (s);torque (N.m);angle (deg)\n0,000;1,2;90\n', /comma/],
    ['a decimal comma', `${head}\n0.000,1.2,90\n0,001,1,3,90\n`, /Line 3/],
    ['a quoted decimal comma', `${head}\n0.000,"1,2",90\n`, /Line 2, torque/],
    ['a word', `${head}\n0.000,1.2,90\n0.001,none,90\n`, /Line 3, torque/],
    ['an empty cell', `${head}\n0.000,1.2,90\n0.001,,90\n`, /Line 3, torque/],
    ['time that stands still', `${head}\n0.000,1.2,90\n0.001,1.2,90\n0.001,1.2,90\n`, /Line 4/],
    ['a unit that is none', 'time (s),torque (Nm),angle (deg)\n0,1,90\n', /"Nm".*"N\.m"/],
    ['work for torque', 'time (s),torque (J),angle (deg)\n0,1,90\n', /unit of/],
    ['a column without unit', 'time,torque (N.m),angle (deg)\n0,1,90\n', /Column 1 of the header/],
    ['a missing channel', 'time (s),torque (N.m)\n0,1\n0.001,2\n', /angle is required/],
    ['a number out of range', `${head}\n0.000,1e999,90\n0.001,1,90\n`, /Line 2, torque/],
    ['nothing at all', '', /header/],
  ])('refuses %s with the place and the reason', async (_what, content, expected) => {
    const file = await inFolder('bad.csv', content)
    const { code, out, err } = await limbLedger('analyse', file, ...DONE, ...READ, ...SPEED)
    expect({ code, out }).toEqual({ code: 1, out: '' })
    expect(err).toContain('bad.csv')
    expect(err).toMatch(expected)
    expect(err).not.toContain('    at ')
  })

  it('refuses a file that is not there or not text', WITH_PROCESS, async () => {
    const missing = await limbLedger('analyse', join(folder, 'nowhere.csv'), ...DONE, ...READ, ...SPEED)
    expect(missing).toMatchObject({ code: 1, out: '' })
    expect(missing.err).toContain('nowhere.csv: There is no such file.')
    expect((await limbLedger('analyse', folder, ...DONE, ...READ, ...SPEED)).err).toContain('This is a folder.')
    const binary = await inFolder('binary.csv', Uint8Array.of(0xff, 0xfe, 0x00, 0x80))
    const refused = await limbLedger('analyse', binary, ...DONE, ...READ, ...SPEED)
    expect(refused.code).toBe(1)
    expect(refused.err).toContain('not UTF-8')
    expect(await asProcess('analyse', binary, ...DONE, ...READ, ...SPEED)).toEqual(refused)
  })
})

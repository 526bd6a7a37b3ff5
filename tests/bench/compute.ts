/**
 * Speed and memory of the compute core, measured on this machine in this run: `npm run bench:compute`.
 *
 * Against NumPy and SciPy where /usr/bin/python3 has them, over the same recording, as a ratio: below 1 means slower. Best of
 * several runs each, because a busy machine only ever adds time. Memory: see compute-memory.ts.
 */
import { execFileSync, spawnSync } from 'node:child_process'
import { mkdtempSync, rmSync, writeFileSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { fileURLToPath } from 'node:url'
import { analyseRecording, designZeroPhaseLowpass, zeroPhaseFilter, type Recording } from '../../src/compute/index.ts'
import { longRecording, PROTOCOL, SAMPLE_RATE_HZ } from './long-recording.ts'

const SPEED_GOAL = 2
const MEMORY_GOAL = 4
const PYTHON = '/usr/bin/python3'
const here = (name: string): string => fileURLToPath(new URL(name, import.meta.url))

function bestSeconds(runs: number, step: () => unknown): number {
  step()
  let best = Infinity
  for (let run = 0; run < runs; run++) {
    const begin = process.hrtime.bigint()
    step()
    best = Math.min(best, Number(process.hrtime.bigint() - begin) / 1e9)
  }
  return best
}

function table(title: string, header: readonly string[], rows: readonly (readonly string[])[]): void {
  const widths = header.map((_, i) => Math.max(...[header, ...rows].map((row) => row[i]!.length)))
  const line = (row: readonly string[]) =>
    `  ${row.map((cell, i) => (i === 0 ? cell.padEnd(widths[i]!) : cell.padStart(widths[i]!))).join('  ')}`
  console.log([`\n${title}`, line(header), ...rows.map(line)].join('\n'))
}

const against = (goal: string, reached: boolean, by: string): string =>
  reached ? `goal ${goal}: reached` : `goal ${goal}: missed ${by}`

// --- Against SciPy -----------------------------------------------------------------------------------------------------

interface ScipyAnswer {
  readonly analyseS: number
  readonly filterS: number
  readonly meanPeakNm: number
  readonly repetitions: number
}

function scipy(recording: Recording, runs: number): ScipyAnswer {
  const folder = mkdtempSync(join(tmpdir(), 'limb-ledger-bench-'))
  try {
    const file = join(folder, 'recording.f64')
    const channels = [recording.timeS, recording.torqueNm, recording.angleDeg, recording.velocityDegS!]
    writeFileSync(file, Buffer.concat(channels.map(({ buffer }) => Buffer.from(buffer as ArrayBuffer))))
    const { gravity } = PROTOCOL
    if (gravity?.kind !== 'cosine') throw new Error('the benchmark weighs the limb at one angle')
    const raisedDeg = -gravity.orientation.belowHorizontalAtZeroDeg
    const argv = [file, recording.timeS.length, gravity.momentNm, raisedDeg, runs].map(String)
    return JSON.parse(execFileSync(PYTHON, [here('compute-scipy.py'), ...argv], { encoding: 'utf8' })) as ScipyAnswer
  } finally {
    rmSync(folder, { recursive: true, force: true })
  }
}

const lowpass = designZeroPhaseLowpass(12, SAMPLE_RATE_HZ, 2)
if ('refused' in lowpass) throw new Error(lowpass.refused)
const hasScipy = spawnSync(PYTHON, ['-c', 'import scipy, numpy']).status === 0
if (!hasScipy) console.log(`${PYTHON} has no SciPy: no comparison with it.`)

const speed: string[][] = []
for (const [label, seconds, runs] of [
  ['60 s at 1 kHz, 3 channels', 60, 30],
  ['10 min at 1 kHz, 3 channels', 600, 8],
] as const) {
  const recording = longRecording(seconds * SAMPLE_RATE_HZ)
  const ours = {
    analyseS: bestSeconds(runs, () => analyseRecording(recording, PROTOCOL)),
    filterS: bestSeconds(runs, () => zeroPhaseFilter(recording.torqueNm, lowpass)),
  }
  const peaks = analyseRecording(recording, PROTOCOL)
    .directions.flatMap(({ repetitions }) => repetitions.map(({ measures }) => measures.peakTorque.value))
    .filter((value) => value !== null)
  const theirs = hasScipy ? scipy(recording, runs) : null
  const meanPeakNm = peaks.reduce((total, value) => total + value, 0) / peaks.length
  if (theirs !== null && Math.abs(theirs.meanPeakNm / meanPeakNm - 1) > 0.01) {
    throw new Error(`not the same steps: mean peak ${meanPeakNm} against ${theirs.meanPeakNm} N.m`)
  }
  for (const [step, key] of [
    ['whole analysis', 'analyseS'],
    ['one channel filtered', 'filterS'],
  ] as const) {
    const ratio = theirs === null ? null : theirs[key] / ours[key]
    speed.push([
      `${label}: ${step}`,
      `${(1000 * ours[key]).toFixed(2)} ms`,
      theirs === null ? '-' : `${(1000 * theirs[key]).toFixed(2)} ms`,
      ratio === null ? '-' : `${ratio.toFixed(2)} x`,
      ratio === null
        ? '-'
        : against(`${SPEED_GOAL} x`, ratio >= SPEED_GOAL, `by ${(100 * (1 - ratio / SPEED_GOAL)).toFixed(0)} %`),
    ])
  }
}
table('Speed (best of several runs)', ['', 'here', 'SciPy', 'ratio', ''], speed)

// --- Linear in the number of samples -----------------------------------------------------------------------------------

const sizes = [1, 3, 10, 30, 100].map((times) => {
  const samples = times * 6 * SAMPLE_RATE_HZ
  const recording = longRecording(samples)
  const seconds = bestSeconds(times < 30 ? 20 : 8, () => analyseRecording(recording, PROTOCOL))
  return { times, samples, perSampleNs: (1e9 * seconds) / samples }
})
table(
  'Time per sample by length',
  ['', 'samples', 'per sample', 'against 1 x'],
  sizes.map(({ times, samples, perSampleNs }) => [
    `${times} x`,
    String(samples),
    `${perSampleNs.toFixed(0)} ns`,
    (perSampleNs / sizes[0]!.perSampleNs).toFixed(2),
  ]),
)

// --- Memory ------------------------------------------------------------------------------------------------------------

const memory = [60, 600, 1800].map((seconds) => {
  const argv = ['--expose-gc', here('compute-memory.ts'), String(seconds * SAMPLE_RATE_HZ)]
  const { inputBytes, peakBytes, keptBytes } = JSON.parse(
    execFileSync(process.execPath, argv, { encoding: 'utf8' }),
  ) as {
    inputBytes: number
    peakBytes: number
    keptBytes: number
  }
  const megabytes = (bytes: number): string => `${(bytes / 1e6).toFixed(1)} MB`
  const ratio = peakBytes / inputBytes
  return [
    `${seconds} s`,
    megabytes(inputBytes),
    megabytes(peakBytes),
    `${ratio.toFixed(2)} x`,
    megabytes(keptBytes),
    against(`${MEMORY_GOAL} x`, ratio <= MEMORY_GOAL, `by ${(ratio - MEMORY_GOAL).toFixed(1)} x`),
  ]
})
table(
  'Memory: the highest the process was during the analysis, above what it was before with the recording loaded',
  ['', 'input', 'peak above', 'of the input', 'kept after', ''],
  memory,
)

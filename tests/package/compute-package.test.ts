import { execFileSync } from 'node:child_process'
import { mkdirSync, mkdtempSync, readFileSync, rmSync, writeFileSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { fileURLToPath } from 'node:url'
import { afterAll, beforeAll, describe, expect, it } from 'vitest'

const ROOT = fileURLToPath(new URL('../..', import.meta.url))
const TSC = join(ROOT, 'node_modules/typescript/bin/tsc')
const node = (cwd: string, ...argv: readonly string[]): string =>
  execFileSync(process.execPath, argv, { cwd, encoding: 'utf8' })

const PROGRAM = `
import { analyseRecording, conventionalRatio, DEFAULT_PARAMETERS } from 'limb-ledger/compute'

const length = 3000
const angleDeg = Float64Array.from({ length }, (_, i) => 90 - Math.min(85, Math.max(0, (i - 500) * 0.06)))
const recording = {
  timeS: Float64Array.from({ length }, (_, i) => i / 1000),
  torqueNm: Float64Array.from({ length }, (_, i) => (i > 500 && i < 1917 ? 150 : 0)),
  angleDeg,
  velocityDegS: null,
  torquePositive: 'extension',
  anglePositive: 'flexion',
  readingAtAnatomicalZeroDeg: 0,
  torqueState: 'gravity_corrected',
  deviceFilter: 'none',
  deviceWindowing: 'none',
}
const { directions } = analyseRecording(recording, {
  joint: 'knee',
  directions: [{ movement: 'extension', contractionMode: 'isokinetic_concentric', velocityDegS: 60 }],
  contractionScheme: 'single_direction',
  gravity: null,
  bodyMassKg: 75,
  intendedRepetitions: 1,
  repetitionNotes: [],
  parameters: DEFAULT_PARAMETERS,
})
const torque = (value) => ({
  torqueNm: { value },
  contractionMode: 'isokinetic_concentric',
  velocityDegS: 60,
  gravityCorrected: 'yes',
})
console.log(JSON.stringify({
  peak: directions[0].measures.peakTorque.best.value,
  ratio: conventionalRatio(torque(133), torque(236)).value,
}))
`

// The types are checked where a consumer needs them: a right use passes, a wrong one has to be an error.
const TYPED = `
import { analyseRecording, MEASURE_UNITS, type Analysis, type Protocol, type Recording } from 'limb-ledger/compute'

export function peak(recording: Recording, protocol: Protocol): number | null {
  const analysis: Analysis = analyseRecording(recording, protocol)
  return analysis.directions[0]?.measures.peakTorque?.best?.value ?? null
}
export const unit: string = MEASURE_UNITS.peakTorque
// @ts-expect-error a joint that is none
export const joint: Protocol['joint'] = 'nose'
`

describe('the compute core as a package', { timeout: 180_000 }, () => {
  let consumer: string
  let packed: string[]

  beforeAll(() => {
    consumer = mkdtempSync(join(tmpdir(), 'limb-ledger-consumer-'))
    node(ROOT, TSC, '-p', '.config/tsconfig.compute.json')
    const argv = ['pack', '--ignore-scripts', '--json', '--pack-destination', consumer]
    const [answer] = JSON.parse(execFileSync('npm', argv, { cwd: ROOT, encoding: 'utf8' })) as [
      { filename: string; files: { path: string }[] },
    ]
    packed = answer.files.map(({ path }) => path)
    // Where an installation puts it, and nothing beside it: what is imported must not need another package.
    const home = join(consumer, 'node_modules/limb-ledger')
    mkdirSync(home, { recursive: true })
    execFileSync('tar', ['-xzf', join(consumer, answer.filename), '-C', home, '--strip-components=1'])
    writeFileSync(join(consumer, 'package.json'), '{ "name": "consumer", "private": true }')
  }, 180_000)

  afterAll(() => rmSync(consumer, { recursive: true, force: true }))

  it('is imported by plain JavaScript with nothing else installed', () => {
    writeFileSync(join(consumer, 'program.mjs'), PROGRAM)
    const { peak, ratio } = JSON.parse(node(consumer, 'program.mjs')) as { peak: number; ratio: number }
    expect(peak).toBeCloseTo(150, 6)
    expect(ratio).toBeCloseTo(0.5636, 4)
  })

  it.each(['nodenext', 'bundler'])('carries its types (module resolution %s)', (moduleResolution) => {
    writeFileSync(join(consumer, 'typed.ts'), TYPED)
    const compilerOptions = {
      target: 'es2024',
      lib: ['es2024'],
      module: moduleResolution === 'nodenext' ? 'nodenext' : 'esnext',
      moduleResolution,
      types: [],
      strict: true,
      skipLibCheck: false,
      noEmit: true,
    }
    writeFileSync(join(consumer, 'tsconfig.json'), JSON.stringify({ compilerOptions, files: ['typed.ts'] }))
    expect(() => node(consumer, TSC, '-p', 'tsconfig.json')).not.toThrow()
  })

  it('holds the built core, its guide and no source of the service', () => {
    expect(packed).toContain('dist/compute/index.js')
    expect(packed).toContain('dist/compute/index.d.ts')
    expect(packed).toContain('src/compute/README.md')
    expect(packed.filter((path) => path.endsWith('.ts') && !path.endsWith('.d.ts'))).toEqual([])
    expect(JSON.parse(readFileSync(join(consumer, 'node_modules/limb-ledger/package.json'), 'utf8'))).toMatchObject({
      private: true,
    })
  })
})

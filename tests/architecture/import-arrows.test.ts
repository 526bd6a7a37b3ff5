import { mkdirSync, mkdtempSync, readdirSync, readFileSync, rmSync, writeFileSync } from 'node:fs'
import { createRequire } from 'node:module'
import { tmpdir } from 'node:os'
import { dirname, join } from 'node:path'
import { fileURLToPath } from 'node:url'
import { cruise, type IConfiguration, type ICruiseResult } from 'dependency-cruiser'
import { afterAll, describe, expect, it, vi } from 'vitest'

const ROOT = fileURLToPath(new URL('../..', import.meta.url))
const RULES = createRequire(import.meta.url)(join(ROOT, '.config/dependency-cruiser.cjs')) as IConfiguration
const planted = mkdtempSync(join(tmpdir(), 'limb-ledger-arrows-'))
afterAll(() => rmSync(planted, { recursive: true, force: true }))

async function violations(baseDir: string): Promise<string[]> {
  const { tsConfig: _, ...options } = RULES.options ?? {}
  const { output } = await cruise(['src'], { ...options, ruleSet: RULES, validate: true, baseDir })
  return (output as ICruiseResult).summary.violations.map((v) => `${v.rule.name}: ${v.from} → ${v.to}`).sort()
}

// Parses every file of src; the machine may be busy with other suites.
vi.setConfig({ testTimeout: 120_000 })

describe('the imports of src', () => {
  it('follow the arrows', async () => {
    expect(await violations(ROOT)).toEqual([])
  })

  it('leave the environment to the configuration and the entry points', () => {
    const files = readdirSync(join(ROOT, 'src'), { recursive: true, encoding: 'utf8' })
      .filter((file) => /\.[jt]s$/.test(file) && !file.startsWith('store/generated/'))
      .filter((file) => readFileSync(join(ROOT, 'src', file), 'utf8').includes('process.env'))
    expect(files.filter((file) => !/^(config|main)\.ts$|^(cli|demo|jobs)\/[^/]+\.ts$/.test(file))).toEqual([])
  })
})

// A rule whose pattern fits nothing would pass for ever, so each is shown one file that breaks it.
const BROKEN: readonly (readonly [rule: string, file: string, content: string])[] = [
  ['compute-alone', 'compute/a.ts', `import type { T } from '../domain/t.ts'`],
  ['compute-no-packages', 'compute/b.ts', `import { readFileSync } from 'node:fs'`],
  ['domain-words', 'domain/a.ts', `import { t } from '../store/t.ts'`],
  ['domain-packages', 'domain/b.ts', `import { readFileSync } from 'node:fs'`],
  ['tenancy', 'tenancy/a.ts', `import { t } from '../store/t.ts'`],
  ['store', 'store/a.ts', `import { t } from '../application/t.ts'`],
  ['store-knows-shapes', 'store/b.ts', `import { t } from '../compute/t.ts'`],
  ['application', 'application/a.ts', `import { t } from '../faces/t.ts'`],
  ['server', 'server/a.ts', `import { t } from '../faces/t.ts'`],
  ['faces', 'faces/a.ts', `import { t } from '../store/t.ts'`],
  ['faces-hand-on', 'faces/b.ts', `import { t } from '../tenancy/database.ts'`],
  ['ledger', 'ledger/a.ts', `import { t } from '../application/t.ts'`],
  ['verify-alone', 'ledger/verify/a.ts', `import { t } from '../merkle.ts'`],
  ['verify-node-only', 'ledger/verify/b.ts', `import { z } from 'zod'`],
  ['simulator-alone', 'demo/simulator/a.ts', `import { t } from '../../compute/t.ts'`],
  ['generated-client-below-application', 'application/b.ts', `import type { T } from '../store/generated/client.ts'`],
  ['http-in-faces-and-server', 'application/c.ts', `import type { FastifyInstance } from 'fastify'`],
  ['embedded-on-demand', 'main.ts', `import { t } from './embedded/t.ts'`],
  ['no-dev-packages-in-service', 'jobs/a.ts', `import * as vitest from 'vitest'`],
  ['app-assembled-once', 'jobs/b.ts', `import { t } from '../app.ts'`],
  ['no-circular', 'jobs/c.ts', `import { t } from './d.ts'`],
  ['not-to-tests', 'jobs/e.ts', `import { t } from '../../tests/t.ts'`],
  ['resolvable', 'jobs/f.ts', `import { t } from './nowhere.ts'`],
]

describe('every rule', () => {
  it('is broken by a file made to break it', async () => {
    const write = (file: string, content: string) => {
      mkdirSync(dirname(join(planted, file)), { recursive: true })
      writeFileSync(join(planted, file), `${content}\n`)
    }
    const targets = ['domain', 'store', 'application', 'faces', 'ledger', 'compute', 'embedded']
    for (const folder of targets) write(`src/${folder}/t.ts`, 'export const t = 1; export type T = number')
    write('src/app.ts', 'export const t = 1')
    write('src/tenancy/database.ts', 'export const t = 1')
    write('src/ledger/merkle.ts', 'export const t = 1')
    write('src/store/generated/client.ts', 'export type T = number')
    write('src/jobs/d.ts', `import { t } from './c.ts'\nexport { t }`)
    write('tests/t.ts', 'export const t = 1')
    write(
      'package.json',
      '{ "type": "module", "dependencies": { "zod": "*", "fastify": "*" }, "devDependencies": { "vitest": "*" } }',
    )
    for (const name of ['zod', 'fastify', 'vitest']) {
      write(`node_modules/${name}/package.json`, `{ "name": "${name}", "version": "1.0.0", "main": "index.js" }`)
      write(`node_modules/${name}/index.js`, '')
    }
    for (const [, file, content] of BROKEN) write(`src/${file}`, `${content}\nexport const used = typeof t`)
    const found = await violations(planted)
    for (const [rule, file] of BROKEN)
      expect(
        found.some((line) => line.startsWith(`${rule}: src/${file} `)),
        `${rule} by ${file}`,
      ).toBe(true)
    expect(BROKEN.map(([rule]) => rule).sort()).toEqual(RULES.forbidden?.map((rule) => rule.name).sort())
  })
})

import { readFileSync } from 'node:fs'
import { describe, expect, it } from 'vitest'
import { CLINIC_ROLES } from '../src/tenancy/actor.ts'
import { runCase } from './accuracy/accuracy-case.ts'
import { REPORT } from './accuracy/accuracy-grid.ts'
import { spreadOf } from './accuracy/error-table.ts'
import { codeWordsOfTable, readme } from './harness/readme.ts'

const source = (path: string) => readFileSync(new URL(`../src/${path}`, import.meta.url), 'utf8')

describe('the README', () => {
  it('opens with the job in one paragraph and the two commands', () => {
    const [title, job, commands] = readme.split('\n\n')
    expect(title).toBe('# Limb Ledger')
    expect(job?.length).toBeGreaterThan(300)
    expect(commands).toBe('    npm ci && npm run demo\n    npm ci && npm test')
  })

  it('names every variable of the configuration, and none that is not read', () => {
    const schema = /const schema = z\.object\(\{\n([\s\S]*?)\n\}\)/.exec(source('config.ts'))?.[1] ?? ''
    const read = [...schema.matchAll(/^ {2}([A-Z_]+):/gm)].map(([, name]) => name ?? '')
    expect(codeWordsOfTable('variable').sort()).toEqual(read.sort())
    expect(read).toContain('DATABASE_URL')
  })

  it('names every command, and none that does not exist', () => {
    const commands = [...source('cli/limb-ledger.ts').matchAll(/import\('\.\/([a-z-]+)\.ts'\)/g)].map(
      ([, name]) => name ?? '',
    )
    expect(codeWordsOfTable('command').sort()).toEqual(commands.sort())
    expect(commands).toContain('create-clinic')
  })

  it('names every role', () => {
    expect(codeWordsOfTable('role').sort()).toEqual([...CLINIC_ROLES, 'reader'].sort())
  })

  it('quotes the accuracy that the analysis has now', () => {
    const [concentric] = REPORT
    const rows = concentric?.cases.slice(0, 7).map((one) => {
      const { label, errors } = runCase(one)
      const inside = errors.filter(({ peakAtEdge }) => !peakAtEdge)
      const quoted = (values: readonly (number | null)[], digits: number) => {
        const { bias, spread } = spreadOf(values) ?? { bias: NaN, spread: NaN }
        return `${bias.toFixed(digits)}, ${spread.toFixed(digits)}`
      }
      return `| ${label} | ${quoted(inside.map((e) => e.peakNm), 2)} | ${quoted(inside.map((e) => e.angleDeg), 1)} | ${quoted(errors.map((e) => e.workPercent), 2)} |` // prettier-ignore
    })
    expect(rows).toHaveLength(7)
    for (const row of rows ?? []) expect(readme).toContain(row)
  }, 60_000)

  it('uses none of the words that would speak of a decision', () => {
    const said = readme.replace(/```[\s\S]*?```/g, '').replace(/`[^`]*`/g, '')
    expect(said).not.toMatch(/\b(cleared|safe|healed|return to sport|passed|failed)\b/i)
  })
})

import { readFile } from 'node:fs/promises'
import { describe, expect, it } from 'vitest'
import { ERROR_TABLE } from '../../../src/domain/errors.ts'
import { tidyComponents } from '../../../src/faces/rest/openapi-components.ts'
import { describeApp } from '../../../src/faces/write-descriptions.ts'
import { POLICY } from '../../../src/tenancy/policy.ts'

const written = await describeApp()
const committed = (name: string) => readFile(new URL(`../../../openapi/${name}`, import.meta.url), 'utf8')

interface Operation {
  summary?: string
  tags?: string[]
  operationId?: string
  security?: unknown[]
  parameters?: { in: string; name: string }[]
  responses: Record<string, { description: string; content?: Record<string, unknown> }>
}
interface Document {
  openapi: string
  info: { description: string; license: { name: string; identifier: string } }
  servers: unknown[]
  tags: { name: string }[]
  paths: Record<string, Record<string, Operation>>
  components: { schemas: Record<string, unknown>; securitySchemes: Record<string, unknown> }
}
const document = JSON.parse(written['openapi.json']) as Document
const operations = Object.entries(document.paths).flatMap(([path, item]) =>
  Object.entries(item).map(([method, operation]) => ({
    name: `${method.toUpperCase()} ${path}`,
    path,
    method,
    operation,
  })),
)

describe('the committed description', () => {
  it.each(['openapi.json', 'errors.md', 'schema.graphql'] as const)(
    '%s is what the routes are now (npm run openapi:write)',
    async (name) => {
      expect(await committed(name)).toBe(written[name])
    },
  )

  it('is written the same twice', async () => {
    expect(await describeApp()).toEqual(written)
  }, 30_000)
})

describe('the OpenAPI document', () => {
  it('says its version, licence and servers, and what the service does not do', () => {
    expect(document.openapi).toBe('3.1.1')
    expect(document.info.license).toEqual({ name: 'Apache-2.0', identifier: 'Apache-2.0' })
    expect(document.servers).not.toHaveLength(0)
    expect(document.info.description).toMatch(/informs; it never decides/)
    expect(document.info.description).toMatch(/Local protocol and licensed practice come first/)
  })

  it.each(operations)('$name has summary, one known tag, security and described refusals', ({ path, operation }) => {
    expect(operation.summary).toMatch(/^[A-Z].{10,}[^.]$/)
    expect(document.tags.map((tag) => tag.name)).toContain(operation.tags?.[0])
    expect(operation.tags).toHaveLength(1)
    expect(operation.security).toEqual(path.startsWith('/v1/') ? [{ accessToken: [] }] : [])
    const refusals = Object.entries(operation.responses).filter(([status]) => status.startsWith('4'))
    expect(refusals).not.toHaveLength(0)
    for (const [, refusal] of refusals) expect(Object.keys(refusal.content ?? {})).toEqual(['application/problem+json'])
    for (const { description } of Object.values(operation.responses)) expect(description).not.toBe('Default Response')
    if (path.startsWith('/v1/'))
      expect(Object.keys(operation.responses)).toEqual(expect.arrayContaining(['400', '401', '403', '503']))
    if (path.includes('{')) expect(operation.responses).toHaveProperty('404')
  })

  it('asks for an Idempotency-Key where a POST creates, and for If-Match where a PUT edits', () => {
    const headers = (operation: Operation) =>
      operation.parameters?.filter((p) => p.in === 'header').map((p) => p.name) ?? []
    for (const { name, method, operation } of operations) {
      if (method === 'put') expect(headers(operation), name).toContain('if-match')
      if ('201' in operation.responses) expect(headers(operation), name).toContain('idempotency-key')
    }
  })

  it('names every operation once', () => {
    const ids = operations.filter(({ path }) => path.startsWith('/v1/')).map(({ operation }) => operation.operationId)
    expect(ids).not.toContain(undefined)
    expect(new Set(ids).size).toBe(ids.length)
  })

  it('has every shape that it points at, points at every shape it has, and none twice under two names', () => {
    const pointedAt = new Set(
      [...written['openapi.json'].matchAll(/"#\/components\/schemas\/([^"]+)"/g)].map((m) => String(m[1])),
    )
    expect([...pointedAt].sort()).toEqual(Object.keys(document.components.schemas).sort())
    for (const [name, shape] of Object.entries(document.components.schemas)) {
      const plain = name.replace(/Input$/, '')
      if (plain !== name) expect(document.components.schemas[plain], name).not.toEqual(shape)
    }
  })
})

describe('tidyComponents', () => {
  const ref = (name: string) => ({ $ref: `#/components/schemas/${name}` })
  const tidied = (schemas: Record<string, unknown>, used: string[]) =>
    tidyComponents({ paths: { '/': { get: used.map(ref) } }, components: { schemas } }) as {
      paths: Record<string, { get: unknown[] }>
      components: { schemas: Record<string, unknown> }
    }

  it('makes one shape of two that are alike, and keeps two that differ', () => {
    const alike = tidied({ A: { type: 'string' }, AInput: { type: 'string' } }, ['A', 'AInput'])
    expect(alike.components.schemas).toEqual({ A: { type: 'string' } })
    expect(alike.paths['/']?.get).toEqual([ref('A'), ref('A')])
    const different = { A: { type: 'string' }, AInput: { type: 'number' } }
    expect(tidied(different, ['A', 'AInput']).components.schemas).toEqual(different)
  })

  it('keeps two that are alike only until one looks at what they point at', () => {
    const schemas = {
      A: { x: ref('B') },
      AInput: { x: ref('BInput') },
      B: { type: 'string' },
      BInput: { type: 'number' },
    }
    expect(tidied(schemas, ['A', 'AInput']).components.schemas).toEqual(schemas)
  })

  it('leaves out what nothing points at, shapes that point at themselves included', () => {
    expect(tidied({ A: {}, B: { x: ref('B') } }, ['A']).components.schemas).toEqual({ A: {} })
  })
})

describe('openapi/errors.md', () => {
  it('has a row for every code of the error table, and no other', async () => {
    const rows = [...(await committed('errors.md')).matchAll(/^\| `(\w+)` \| (\d+) \| (.+?) \|/gm)]
    const documented = Object.fromEntries(rows.map(([, code, status, title]) => [code, `${status} ${title}`]))
    const table = Object.fromEntries(
      Object.entries(ERROR_TABLE).map(([code, row]) => [code, `${row.status} ${row.title}`]),
    )
    expect(documented).toEqual(table)
  })
})

describe('the policy', () => {
  it('names no action twice and gives each to someone', () => {
    for (const [action, roles] of Object.entries(POLICY)) {
      expect(roles.length, action).toBeGreaterThan(0)
      expect(new Set(roles).size, action).toBe(roles.length)
    }
  })
})

import { spawn } from 'node:child_process'
import { mkdtemp, rm, writeFile } from 'node:fs/promises'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { fileURLToPath } from 'node:url'
import { afterAll, beforeAll, describe, expect, it } from 'vitest'
import { makeReportKeysText, openReportKeys } from '../../../src/application/reports/report-keys.ts'
import { verifySignedReport } from '../../../src/application/reports/verify-signed-report.ts'
import { canonicalJson } from '../../../src/domain/canonical-json.ts'

const CLINIC = '019c222e-8500-7c75-b636-d85099090016'
const OTHER_CLINIC = '019c222e-8500-7c75-b636-d85099090017'
const REPORT = { format: 'limb-ledger-report/1', counts: { met: 4, notMet: 1, notAssessable: 1 }, value: 88.68312757201646, salt: 'c2FsdA' } // prettier-ignore

const firstFile = makeReportKeysText()
const keys = openReportKeys(firstFile)
const { jws, keyId } = await keys.sign(CLINIC, REPORT)
const keySet = JSON.stringify(await keys.publicKeys(CLINIC))
const answer = JSON.stringify({ report: REPORT, jws })

describe('a signed report', () => {
  it('verifies with the public keys of its clinic, as a bare JWS and as the JSON answer that holds it', async () => {
    for (const text of [jws, `${jws}\n`, answer])
      expect(await verifySignedReport(text, keySet)).toEqual({ authentic: true, keyId, report: REPORT })
  })

  it('fails at the first changed byte, wherever it is', async () => {
    for (let at = 0; at < jws.length; at += 1) {
      for (const byte of new Set(['A', 'B', '_', '=', '.', ' ', String.fromCharCode(jws.charCodeAt(at) ^ 1)])) {
        if (byte === jws[at]) continue
        const found = await verifySignedReport(jws.slice(0, at) + byte + jws.slice(at + 1), keySet)
        expect({ at, byte, authentic: found.authentic }).toEqual({ at, byte, authentic: false })
      }
    }
  })

  it('fails with a byte more or a byte less', async () => {
    for (const text of [`${jws}A`, ` ${jws}`, jws.slice(0, -1), jws.slice(1), `${jws}\n\n`, ''])
      expect(await verifySignedReport(text, keySet)).toMatchObject({ authentic: false })
  })

  it('fails where the JSON beside it shows another thing than was signed, in any byte', async () => {
    const report = canonicalJson(REPORT)
    for (let at = 0; at < report.length; at += 1) {
      const changed = report.slice(0, at) + String.fromCharCode(report.charCodeAt(at) ^ 1) + report.slice(at + 1)
      const found = await verifySignedReport(`{"jws":"${jws}","report":${changed}}`, keySet)
      const shows = shown(changed)
      // 88.68312757201646 and 88.68312757201647 may be one number; then nothing else is shown.
      expect({ at, authentic: found.authentic }).toEqual({ at, authentic: shows !== null && canonicalJson(shows) === report }) // prettier-ignore
    }
    expect(await verifySignedReport(`{"jws":"${jws}","report":{},"report":${report}}`, keySet)).toMatchObject({ authentic: false }) // prettier-ignore
    expect(await verifySignedReport(`{"jws":"${jws}"}`, keySet)).toMatchObject({ authentic: false })
  })

  it('does not verify with the keys of another clinic of the same installation', async () => {
    const others = JSON.stringify(await keys.publicKeys(OTHER_CLINIC))
    expect(await verifySignedReport(jws, others)).toEqual({ authentic: false, reason: 'none of the keys given signed it' })
  })

  it('stays verifiable after rotation, when new reports are signed with another key', async () => {
    const rotated = openReportKeys(makeReportKeysText(firstFile))
    const published = await rotated.publicKeys(CLINIC)
    const later = await rotated.sign(CLINIC, REPORT)
    expect(published.keys.map(({ kid }) => kid)).toEqual([later.keyId, keyId])
    expect(later.keyId).not.toBe(keyId)
    for (const text of [jws, later.jws])
      expect(await verifySignedReport(text, JSON.stringify(published))).toMatchObject({ authentic: true })
    expect(await verifySignedReport(later.jws, keySet)).toMatchObject({ authentic: false })
  })

  it('no longer verifies once a leaked secret is taken out', async () => {
    const without = openReportKeys(makeReportKeysText())
    const found = await verifySignedReport(jws, JSON.stringify(await without.publicKeys(CLINIC)))
    expect(found).toMatchObject({ authentic: false })
  })

  it('is asked of nobody: what is no key set is the mistake of whoever brought it', async () => {
    for (const text of ['', '{}', '{"keys":1}', 'null'])
      await expect(verifySignedReport(jws, text)).rejects.toThrow(RangeError)
  })

  it('publishes public halves alone', async () => {
    for (const key of (await keys.publicKeys(CLINIC)).keys)
      expect(Object.keys(key).sort()).toEqual(['alg', 'crv', 'kid', 'kty', 'use', 'x'])
  })
})

describe('the file of report keys', () => {
  it.each([
    ['nothing', ''],
    ['no secrets', '{"secrets":[]}'],
    ['a short secret', '{"secrets":[{"id":"a","secret":"c2hvcnQ"}]}'],
    ['one id twice', JSON.stringify({ secrets: [1, 2].map(() => ({ id: 'a', secret: 'A'.repeat(43) })) })],
  ])('is refused with %s, without a word of what is in it', (_what, text) => {
    expect(() => openReportKeys(text)).toThrow(/^The file of report keys is not acceptable/)
  })
})

describe('limb-ledger verify-report', () => {
  let directory = ''
  const path = (name: string) => join(directory, name)
  beforeAll(async () => {
    directory = await mkdtemp(join(tmpdir(), 'limb-ledger-report-'))
    await writeFile(path('report.jws'), jws)
    await writeFile(path('report.json'), answer)
    await writeFile(path('tampered.json'), answer.replace('"met":4', '"met":6'))
    await writeFile(path('keys.json'), keySet)
    // Whoever so much as asks for a socket, a name or a database driver is stopped.
    await writeFile(path('no-network.mjs'), NO_NETWORK)
  })
  afterAll(() => rm(directory, { recursive: true, force: true }))

  /** A process of its own, with an empty environment. */
  const verify = (...argv: string[]) =>
    new Promise<{ code: number | null; out: string; err: string }>((settle) => {
      const bin = fileURLToPath(new URL('../../../src/cli/limb-ledger.ts', import.meta.url))
      const run = `import(${JSON.stringify(bin)}).then(async ({ run }) => { process.exitCode = await run(process.argv.slice(1)) })`
      const child = spawn(process.execPath, ['--import', path('no-network.mjs'), '-e', run, '--', 'verify-report', ...argv], { env: {} }) // prettier-ignore
      let out = ''
      let err = ''
      child.stdout.on('data', (chunk: Buffer) => (out += chunk.toString()))
      child.stderr.on('data', (chunk: Buffer) => (err += chunk.toString()))
      child.on('close', (code) => settle({ code, out, err }))
    })

  it.each(['report.jws', 'report.json'])('finds %s authentic with file and keys alone, and says what it can’t know', async (file) => {
    const { code, out, err } = await verify(path(file), '--jwks', path('keys.json'))
    expect([code, err]).toEqual([0, ''])
    expect(out).toMatch(/^authentic; may be superseded or withdrawn since\n/)
    expect(out).toContain('88.68312757201646')
  })

  it('would be stopped if it asked for more: the guard of these tests holds', async () => {
    for (const wanted of ['node:net', 'pg', 'node:dns']) {
      const child = spawn(process.execPath, ['--import', path('no-network.mjs'), '-e', `import('${wanted}')`], { env: {} })
      let err = ''
      child.stderr.on('data', (chunk: Buffer) => (err += chunk.toString()))
      const code = await new Promise((settle) => child.on('close', settle))
      expect([wanted, code, err.includes(`asked for ${wanted}`)]).toEqual([wanted, 1, true])
    }
  })

  it('says what is wrong, and that with its exit code', async () => {
    const tampered = await verify(path('tampered.json'), '--jwks', path('keys.json'))
    expect(tampered).toMatchObject({ code: 1, out: 'not authentic: what it shows beside the signature is not what was signed\n' }) // prettier-ignore
    expect(await verify(path('report.jws'))).toMatchObject({ code: 2 })
    expect(await verify(path('absent'), '--jwks', path('keys.json'))).toMatchObject({ code: 2 })
    expect(await verify(path('report.jws'), '--jwks', path('report.jws'))).toMatchObject({ code: 2 })
  })
})

const NO_NETWORK = `
import { registerHooks } from 'node:module'
const forbidden = /^(node:)?(net|tls|dgram|dns|http|https|http2)(\\/|$)|^(pg|@prisma|fastify|undici)/
registerHooks({ resolve(specifier, context, next) {
  if (forbidden.test(specifier)) throw new Error('asked for ' + specifier)
  return next(specifier, context)
} })
globalThis.fetch = () => { throw new Error('asked the network') }
`

function shown(text: string): unknown {
  try {
    return JSON.parse(text)
  } catch {
    return null
  }
}

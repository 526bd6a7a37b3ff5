import type { AddressInfo } from 'node:net'
import type { Browser } from 'playwright-core'
import { afterAll, describe, expect, it } from 'vitest'
import { explorerPage } from '../../../src/embedded/explorer.ts'
import { makeWorld } from '../../application/sessions/documents.ts'
import { makeTestService } from '../../harness/clinic.ts'
import { testDatabase } from '../../harness/test-database.ts'
import { launchBrowser } from '../pages/browser.ts'

const database = await testDatabase()
const service = await makeTestService(database, {
  graphql: { introspection: true, persisted: null, explorer: async () => explorerPage() },
})
const browser: Browser | null = await launchBrowser()
afterAll(() => browser?.close())

describe('the explorer', () => {
  it('is a page that may run its own script, by hash, and reach this service alone', async () => {
    const { status, headers, text } = await service.api(null).get<string>('/graphql/explorer')
    expect([status, headers['content-type']]).toEqual([200, 'text/html; charset=utf-8'])
    expect(headers['content-security-policy']).toMatch(/^default-src 'none'; script-src 'sha256-[A-Za-z0-9+/]{43}='; /)
    expect(headers['content-security-policy']).toContain("connect-src 'self';")
    expect(headers['content-security-policy']).not.toMatch(/https?:|\*/)
    expect(text).not.toMatch(/<(script|link|img|iframe)[^>]+(src|href)="(https?:)?\/\//)
  })

  it('is not there where none was given, as in production', async () => {
    const without = await makeTestService(database)
    expect((await without.api(null).get('/graphql/explorer')).status).toBe(404)
  })
})

describe.skipIf(browser === null)('the explorer in a browser', () => {
  it('runs a query with a pasted token, and asks no other host', async () => {
    const world = await makeWorld(service)
    await service.app.listen({ port: 0, host: '127.0.0.1' })
    const host = `127.0.0.1:${(service.app.server.address() as AddressInfo).port}`
    const context = await browser!.newContext({ viewport: { width: 1280, height: 800 } })
    const page = await context.newPage()
    const asked: string[] = []
    const complaints: string[] = []
    page.on('request', (request) => asked.push(request.url()))
    page.on('pageerror', (error) => complaints.push(error.message))
    page.on('console', (message) => {
      if (message.text().includes('Content Security Policy')) complaints.push(message.text())
    })
    await page.goto(`http://${host}/graphql/explorer`)
    await page.getByText('Paste a token into').waitFor()
    const headers = page.locator('.graphiql-editor-tool .monaco-editor').last()
    await headers.click()
    await page.keyboard.press('ControlOrMeta+A')
    await page.keyboard.insertText(`{"authorization": "Bearer ${world.clinic.tokens.clinician}"}`)
    await page.locator('.graphiql-execute-button').click()
    await page.locator('.result-window').getByText(world.subjectId).first().waitFor()
    if (process.env['SCREENSHOT'] !== undefined) await page.screenshot({ path: process.env['SCREENSHOT'] })

    expect(asked.filter((url) => !/^(blob:|data:)/.test(url) && new URL(url).host !== host)).toEqual([])
    expect(complaints).toEqual([])
  }, 90_000)
})

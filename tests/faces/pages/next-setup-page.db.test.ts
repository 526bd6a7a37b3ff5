import { AxeBuilder } from '@axe-core/playwright'
import type { AddressInfo } from 'node:net'
import type { Browser, Page } from 'playwright-core'
import { afterAll, beforeAll, describe, expect, it } from 'vitest'
import type { LooseDocument } from '../../fixtures/example-session.ts'
import { makeTestService } from '../../harness/clinic.ts'
import { testDatabase } from '../../harness/test-database.ts'
import { makeWorld, type World } from '../../application/sessions/documents.ts'
import { launchBrowser, pageCount } from './browser.ts'

const service = await makeTestService(await testDatabase())
const browser: Browser | null = await launchBrowser()
/** Every text that people write is dangerous somewhere. */
const NASTY = `<img src=x onerror="document.title='owned'"> & "quoted" 'name'`
let world: World
let origin: string

const pathOf = (side = 'right'): string =>
  `/v1/subjects/${world.subjectId}/next-setup?joint=knee&side=${side}&dynamometerId=${world.dynamometerId}&on=2026-04-20`

beforeAll(async () => {
  await service.app.listen({ port: 0, host: '127.0.0.1' })
  origin = `http://127.0.0.1:${(service.app.server.address() as AddressInfo).port}`
  world = await makeWorld(service, {
    subject: (body) => void (body.name = NASTY),
    episode: (body) =>
      void (body.precautions = [
        { kind: 'range_limit', lowest: { value: 45, unit: 'deg' }, highest: { value: 90, unit: 'deg' }, movement: 'extension', untilWeek: 20, setBy: 'surgeon', note: NASTY }, // prettier-ignore
        { kind: 'contraction_mode_excluded', contractionMode: 'isokinetic_eccentric', setBy: 'clinic' },
      ]),
    dynamometer: (body) => {
      body.name = NASTY
      body.settings[3].label = NASTY
    },
  })
  const first = await world.pushVisit('2026-03-02')
  await world.clinician.post(`/v1/subjects/${world.subjectId}/reference-setups`, { session: { id: first.session.id }, setup: 'right-knee', reason: NASTY }) // prettier-ignore
  await world.pushVisit('2026-04-02', { velocitiesDegS: [60, 180], change: (d) => void (d.setups[1].settings.seatDepth.value = 43) }) // prettier-ignore
})
afterAll(async () => {
  await browser?.close()
})

const asHtml = { headers: { accept: 'text/html' } }

describe('the page of the next setup', () => {
  it('is the same address asked for as text/html; JSON to everyone else', async () => {
    const page = await world.clinician.get<string>(pathOf(), asHtml)
    expect([page.status, page.headers['content-type'], page.headers['vary']]).toEqual([200, 'text/html; charset=utf-8', 'Accept']) // prettier-ignore
    const json = await world.clinician.get(pathOf())
    expect(json.headers['content-type']).toMatch(/^application\/json/)
    const both = await world.clinician.get(pathOf(), { headers: { accept: 'application/json, text/html;q=0.5' } })
    expect(both.headers['content-type']).toMatch(/^application\/json/)
  })

  it('may use nothing but its own style, by hash', async () => {
    const { headers } = await world.clinician.get(pathOf(), asHtml)
    expect(headers['content-security-policy']).toMatch(/^default-src 'none'; style-src 'sha256-[A-Za-z0-9+/]{43}='; /)
    expect(headers['content-security-policy']).not.toContain('unsafe')
    expect(headers['cache-control']).toBe('no-store')
  })

  it('escapes what people wrote', async () => {
    const { text } = await world.clinician.get(pathOf(), asHtml)
    expect(text).not.toContain('<img')
    expect(text).toContain('&lt;img src=x onerror=&quot;')
  })

  it('needs a token like every other answer, and refuses as a problem document', async () => {
    const refused = await service.api(null).get(pathOf(), asHtml)
    expect([refused.status, refused.headers['content-type']]).toEqual([401, 'application/problem+json'])
  })
})

describe.skipIf(browser === null)('the page in a browser', () => {
  async function open(side?: string): Promise<{ page: Page; complaints: string[] }> {
    const context = await browser!.newContext({
      viewport: { width: 794, height: 1123 },
      extraHTTPHeaders: { authorization: `Bearer ${world.clinic.tokens.clinician}`, accept: 'text/html' },
    })
    const page = await context.newPage()
    const complaints: string[] = []
    page.on('console', (message) => complaints.push(message.text()))
    page.on('pageerror', (error) => complaints.push(error.message))
    const answer = await page.goto(`${origin}${pathOf(side)}`)
    expect(answer?.status()).toBe(200)
    return { page, complaints }
  }

  it('shows who, the limits of today and big numbers, with a box to tick and a box for each value', async () => {
    const { page, complaints } = await open()
    expect(await page.title()).toBe('Next setup: right knee, 2026-04-20')
    expect(await page.locator('h1').textContent()).toBe(NASTY)
    const text = await page.locator('body').innerText()
    for (const line of ['Pain above 3 of 10', 'between 45 and 90 deg only until week 20', 'Measure again: never carried over', 'seat depth: 42 cm, last time 43 cm', 'Local protocol and licensed practice come first']) expect(text).toContain(line) // prettier-ignore
    expect(await page.locator('h2').allTextContents()).toEqual([
      '1 · Precautions and limits today',
      '2 · Mechanical stops',
      '3 · Parts to fetch',
      '4 · Chair and machine',
      '5 · Fitting the subject',
      '6 · Measure again: never carried over',
      '7 · Changed since the reference',
      '8 · Planned test as last time',
    ])
    const row = page.locator('tr', { hasText: 'Depth of the seat' })
    expect(await row.locator('.value').textContent()).toBe('42 cm')
    expect(await row.locator('.origin').textContent()).toBe('reference, within 1 cm')
    expect(await row.locator('.box').count()).toBe(1)
    expect((await row.locator('td.set').boundingBox())!.width).toBeGreaterThan(50)
    const size = (selector: string) => page.evaluate<number>(`parseFloat(getComputedStyle(document.querySelector('${selector}')).fontSize)`) // prettier-ignore
    // Read from a metre away: at least 14 pt, half as large again as the words beside it
    expect(await size('.value:not(.words)')).toBeGreaterThanOrEqual(18)
    expect(await page.evaluate('[document.scripts.length, document.images.length]')).toEqual([0, 0])
    expect(complaints).toEqual([])
  })

  it('shows what a planned set goes beyond, and the clinician’s reason', async () => {
    const directions = [{ movement: 'extension', contractionMode: 'isokinetic_eccentric', velocity: { value: 60, unit: 'deg/s' } }] // prettier-ignore
    const plan = {
      joint: 'knee',
      side: 'right',
      dynamometer: { id: world.dynamometerId },
      plannedOn: '2026-04-20',
      sets: [{ contractionScheme: 'single_direction', directions }],
      stops: { extension: { value: 50, unit: 'deg' }, flexion: { value: 80, unit: 'deg' } },
      precautionReason: `Agreed by telephone ${NASTY}`,
    }
    const answer = await world.clinician.post(`/v1/subjects/${world.subjectId}/test-plans`, plan)
    expect(answer.status, answer.text).toBe(201)
    const { page } = await open()
    const text = await page.locator('section', { hasText: 'Planned test' }).innerText()
    expect(text).toContain('planned for 2026-04-20')
    expect(text).toContain('BEYOND: isokinetic eccentric, any movement: not to be tested')
    expect(text).toContain(`Agreed by telephone ${NASTY}`)
    expect(await page.locator('tr', { hasText: 'Stop in extension' }).locator('.value').textContent()).toBe('50 deg')
  })

  it.each([['right'], ['left']])('prints the %s knee on one A4 sheet', async (side) => {
    const { page } = await open(side)
    await page.emulateMedia({ media: 'print' })
    expect(pageCount(await page.pdf({ format: 'A4', preferCSSPageSize: true }))).toBe(1)
  })

  it.each([
    [1, 12],
    [12, 10.5],
    [40, 8],
  ])(
    'prints %i dials, precautions, a plan and what changed on one sheet, numbers of at least %f pt',
    async (dials, points) => {
      const settings = Array.from({ length: dials }, (_, n) => ({
        key: `dial${n}`,
        label: `Dial number ${n}: of the far side of the chair`,
        kind: 'quantity',
        unit: 'cm',
        range: { low: 0, high: 60 },
        mirror: 'same',
        tolerance: { value: 1, unit: 'cm' },
      }))
      const set = (document: LooseDocument, value: number) =>
      document.setups.forEach((setup: LooseDocument) => (setup.settings = Object.fromEntries(settings.map(({ key }) => [key, { value, unit: 'cm' }])))) // prettier-ignore
      const many = await makeWorld(service, {
        subject: (body) => void (body.name = 'Maximiliana Exampleton-Longname of the Hill'),
        episode: (body) =>
          void (body.precautions = [
            { kind: 'range_limit', lowest: { value: 10, unit: 'deg' }, highest: { value: 90, unit: 'deg' }, untilWeek: 60, setBy: 'surgeon', note: 'Brace off for the test, and on again at once.' }, // prettier-ignore
            { kind: 'contraction_mode_excluded', contractionMode: 'isokinetic_concentric', movement: 'flexion', setBy: 'clinic' }, // prettier-ignore
          ]),
        dynamometer: (body) => void (body.settings = settings),
        calibrated: false,
      })
      const first = await many.pushVisit('2025-08-02', { change: (d) => set(d, 20) })
      await many.clinician.post(`/v1/subjects/${many.subjectId}/reference-setups`, { session: { id: first.session.id }, setup: 'right-knee', reason: 'First test' }) // prettier-ignore
      const change = (document: LooseDocument) => {
        set(document, 20)
        for (const { key } of settings.slice(0, 4)) document.setups[1].settings[key].value = 25
      }
      await many.pushVisit('2026-04-02', { velocitiesDegS: [60, 120, 180, 240, 300], change })
      world = many
      const { page } = await open()
      expect(await page.locator('tbody tr').count()).toBeGreaterThan(dials + 10)
      expect(await page.locator('.caution', { hasText: 'Left out' }).count()).toBe(5)
      const number = 'parseFloat(getComputedStyle(document.querySelector(".value:not(.words)")).fontSize)'
      expect(((await page.evaluate<number>(number)) * 72) / 96).toBeGreaterThanOrEqual(points)
      await page.emulateMedia({ media: 'print' })
      expect(pageCount(await page.pdf({ format: 'A4', preferCSSPageSize: true }))).toBe(1)
    },
  )

  it('has nothing that axe finds fault with', async () => {
    const { page } = await open()
    const { violations } = await new AxeBuilder({ page }).analyze()
    expect(violations.map(({ id, nodes }) => [id, nodes.map((node) => node.html)])).toEqual([])
  })
})

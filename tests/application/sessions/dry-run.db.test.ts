import { beforeEach, describe, expect, it } from 'vitest'
import type { LooseDocument } from '../../fixtures/example-session.ts'
import { makeTestService } from '../../harness/clinic.ts'
import { testDatabase } from '../../harness/test-database.ts'
import { makeWorld, recorded, rowCounts, sql, type World } from './documents.ts'

const service = await makeTestService(await testDatabase())
let world: World
beforeEach(async () => {
  world = await makeWorld(service)
})

const check = (document: LooseDocument) => world.machine.post('/v1/calculations/session-check', document, { key: null })

/** Ids by order of appearance, so that two answers that differ in their ids alone are equal; times of storing are none. */
function withoutIds(body: LooseDocument): unknown {
  const names = new Map<string, string>()
  const text = JSON.stringify(body).replaceAll(
    /[0-9a-f]{8}-[0-9a-f]{4}-7[0-9a-f]{3}-[0-9a-f]{4}-[0-9a-f]{12}/g,
    (id) => {
      if (!names.has(id)) names.set(id, `id ${names.size + 1}`)
      return names.get(id) ?? ''
    },
  )
  const read = JSON.parse(text)
  read.session.recordedAt = 'then'
  return read
}

describe('the dry run of a push', () => {
  it('gives the answer of the push, ids aside, and stores nothing', async () => {
    await world.pushVisit('2026-11-03')
    const painful = (d: LooseDocument): void => void (d.screening.pain.during.value = 5)
    const documents = [
      world.visit('2026-11-10', { extension: { left: 125.4, right: 110.6 }, flexion: { left: 67.9, right: 62 } }),
      recorded(world.visit('2026-11-11')),
      world.visit('2026-11-12', { change: painful }),
    ]
    for (const document of documents) {
      const before = await rowCounts(service)
      const tried = await check(document)
      expect(tried.status, tried.text).toBe(200)
      expect(await rowCounts(service)).toEqual(before)
      expect(tried.headers['location']).toBeUndefined()
      const pushed = await world.push(document)
      expect(withoutIds(tried.body)).toEqual(withoutIds(pushed.body))
      expect(await rowCounts(service)).not.toEqual(before)
    }
  })

  it('of a session that is there already is answered with it, and changes nothing', async () => {
    const document = world.visit('2026-11-03')
    const pushed = await world.push(document)
    const before = await rowCounts(service)
    expect((await check(document)).body).toEqual(pushed.body)
    expect(await rowCounts(service)).toEqual(before)
  })

  it('is refused as the push would be, with the same faults', async () => {
    await world.push({ ...world.visit('2026-11-03'), externalId: { system: 'https://ehr.clinic.example/visit', value: 'V-1' } }) // prettier-ignore
    const changes: ((d: LooseDocument) => void)[] = [
      (d) => (d.bodyMass.unit = 'KGM'),
      (d) => (d.operator.identifier.value = 'nobody'),
      (d) => (d.setups[0].settings.wedge = 'steep'),
      (d) => (d.externalId.value = 'V-1'),
    ]
    for (const change of changes) {
      const document = world.visit('2026-11-10', { change })
      const before = await rowCounts(service)
      const [tried, pushed] = [await check(document), await world.machine.post('/v1/sessions', document)]
      expect(tried.status).toBeGreaterThanOrEqual(400)
      expect([tried.status, { ...tried.body, requestId: '' }]).toEqual([
        pushed.status,
        { ...pushed.body, requestId: '' },
      ])
      expect(await rowCounts(service)).toEqual(before)
    }
  })

  it('is on record: it showed what is known of a subject', async () => {
    await check(world.visit('2026-11-03'))
    await check(world.visit('2026-11-10', { change: (d) => (d.bodyMass.unit = 'KGM') }))
    const events = await sql(
      service,
      `select action, outcome, subject_ids, details from audit_event
       where clinic_id = $1 and action like 'sessions.%' order by ord`,
      [world.clinic.clinicId],
    )
    expect(events).toEqual([
      { action: 'sessions.check', outcome: 'done', subject_ids: [world.subjectId], details: {} },
      { action: 'sessions.check', outcome: 'refused', subject_ids: [], details: { code: 'unit_not_accepted' } },
    ])
  })
})

import { v7 as uuidv7 } from 'uuid'
import { beforeEach, describe, expect, it } from 'vitest'
import { addMember, withOwner } from '../../../src/store/admin-store.ts'
import { withClient } from '../../../src/store/migrate/with-client.ts'
import type { LooseDocument } from '../../fixtures/example-session.ts'
import { freshClinic, ISSUER, makeTestService, type Api, type FreshClinic } from '../../harness/clinic.ts'
import { testedSubject, type TestedSubject } from '../../harness/tested-subject.ts'
import { testDatabase } from '../../harness/test-database.ts'

const service = await makeTestService(await testDatabase())
let clinic: FreshClinic
let api: Api
let tested: TestedSubject
beforeEach(async () => {
  clinic = await freshClinic(service)
  api = service.api(clinic.tokens.clinician)
  tested = await testedSubject(service, clinic)
})

/** Pain of 5/10 during the test holds back every result of the visit. */
const painful = (document: LooseDocument): void => void (document.screening.pain.during.value = 5)

async function heldVisit(
  day = '2026-11-17',
): Promise<{ sessionId: string; hold: LooseDocument; flags: LooseDocument[] }> {
  const { body } = await tested.push(tested.visit(day, painful))
  const flags = body.flags as LooseDocument[]
  const hold = flags.find((flag) => flag.level === 'hold' && flag.resultId !== undefined)
  expect(hold?.code).toBe('pain_limited')
  return { sessionId: body.session.id, hold, flags }
}

const dismissal = { status: 'dismissed', reason: 'Pain of the other knee: asked again.' }

const trendOf = (resultSide: string) =>
  api.get(
    `/v1/subjects/${tested.subjectId}/trend?joint=knee&movement=extension&side=${resultSide}&contractionMode=isokinetic_concentric&contractionScheme=reciprocal&velocity=60%20deg/s&measure=peakTorque&statistic=best`,
  )

describe('the work list', () => {
  it('holds what is open, oldest first, with the subject; a level narrows it', async () => {
    const { flags } = await heldVisit()
    const { status, body } = await api.get('/v1/flags')
    expect(status).toBe(200)
    expect(body.items).toEqual(flags.map((flag) => ({ ...flag, subjectId: tested.subjectId })))
    const holds = (await api.get('/v1/flags?level=hold')).body.items
    expect(holds).toEqual(body.items.filter((flag: LooseDocument) => flag.level === 'hold'))
    expect(holds.length).toBeGreaterThan(0)
    expect(holds.length).toBeLessThan(body.items.length)
  })

  it('is read page by page, each flag once', async () => {
    await heldVisit()
    const whole = (await api.get('/v1/flags')).body.items
    const seen: unknown[] = []
    let cursor: string | null = ''
    while (cursor !== null) {
      const { body }: LooseDocument = await api.get(`/v1/flags?limit=3${cursor === '' ? '' : `&cursor=${cursor}`}`)
      expect(body.items.length).toBeLessThanOrEqual(3)
      seen.push(...body.items)
      cursor = body.nextCursor
    }
    expect(seen).toEqual(whole)
  })

  it('loses what is resolved and what an amendment replaced', async () => {
    const { sessionId, hold } = await heldVisit()
    await api.post(`/v1/flags/${hold.id}/resolution`, dismissal)
    expect((await api.get('/v1/flags')).text).not.toContain(hold.id)
    const withoutPain = tested.visit('2026-11-17', (document) => (document.externalId.value = 'V-RB-20417-1'))
    const amended = await api.post(
      `/v1/sessions/${sessionId}/amendments`,
      { reason: 'Pain was typed into the wrong field.', session: withoutPain },
      { headers: { 'if-match': '"1"' } },
    )
    expect(amended.status, amended.text).toBe(200)
    expect((await api.get('/v1/flags?level=hold')).body.items).toEqual([])
  })

  it('refuses a level, a limit and a cursor it does not know', async () => {
    for (const query of ['level=red', 'limit=0', 'cursor=abc', 'status=open']) {
      expect((await api.get(`/v1/flags?${query}`)).status).toBe(400)
    }
  })
})

describe('the flags of a session', () => {
  it('are those of its push, and stay readable with their resolution', async () => {
    const { sessionId, hold, flags } = await heldVisit()
    expect((await api.get(`/v1/sessions/${sessionId}/flags`)).body.items).toEqual(flags)
    await api.post(`/v1/flags/${hold.id}/resolution`, dismissal)
    const { body } = await api.get(`/v1/sessions/${sessionId}/flags`)
    expect(body.items.find((flag: LooseDocument) => flag.id === hold.id)).toMatchObject({
      status: 'dismissed',
      resolution: { by: clinic.principals.clinician, reason: dismissal.reason },
    })
  })
})

describe('a resolution', () => {
  it('dismissed, lets the value count again; confirmed, keeps it out for good', async () => {
    const { flags } = await heldVisit()
    const results = (await api.get(`/v1/sessions/${flags[0]?.sessionId}/results`)).body.items as LooseDocument[]
    const extensionOf = (side: string) => results.find((r) => r.side === side && r.set === `${side}-60` && r.movement === 'extension') // prettier-ignore
    const holdOf = (side: string) => flags.find((f) => f.level === 'hold' && f.resultId === extensionOf(side).id)
    expect(extensionOf('left').state).toBe('held')
    expect((await trendOf('left')).body.points).toEqual([])

    const dismissed = await api.post(`/v1/flags/${holdOf('left').id}/resolution`, dismissal)
    expect(dismissed.status).toBe(201)
    expect(dismissed.body).toEqual({
      ...holdOf('left'),
      status: 'dismissed',
      resolution: { by: clinic.principals.clinician, at: expect.any(String), reason: dismissal.reason },
    })
    const confirmed = await api.post(`/v1/flags/${holdOf('right').id}/resolution`, { status: 'confirmed', reason: 'It hurt.' }) // prettier-ignore
    expect(confirmed.body.status).toBe('confirmed')

    expect((await trendOf('left')).body.points).toMatchObject([{ resultId: extensionOf('left').id }])
    expect((await trendOf('right')).body.points).toEqual([])
    expect((await api.get(`/v1/results/${extensionOf('left').id}`)).body.state).toBe('final')
    expect((await api.get(`/v1/results/${extensionOf('right').id}`)).body.state).toBe('held')
  })

  it('is one event of the audit log with its subject', async () => {
    const { hold } = await heldVisit()
    await api.post(`/v1/flags/${hold.id}/resolution`, dismissal)
    const { rows } = await withClient(service.database.adminUrl, (client) =>
      client.query('select * from audit_event where clinic_id = $1 and action = $2', [
        clinic.clinicId,
        'flags.resolve',
      ]),
    )
    expect(rows).toMatchObject([
      {
        outcome: 'done',
        actor_principal_id: clinic.principals.clinician,
        subject_ids: [tested.subjectId],
        resource_ids: [`flag/${hold.id}`, `session/${hold.sessionId}`],
        details: { flagCode: 'pain_limited', status: 'dismissed' },
      },
    ])
  })

  it('is given once: again with the same key the same answer, with another key 409', async () => {
    const { hold } = await heldVisit()
    const url = `/v1/flags/${hold.id}/resolution`
    const first = await api.post(url, dismissal, { key: 'once' })
    const replay = await api.post(url, dismissal, { key: 'once' })
    expect(replay.text).toBe(first.text)
    expect(replay.headers['idempotency-replayed']).toBe('true')
    const again = await api.post(url, { status: 'confirmed', reason: 'After all.' })
    expect(again.status).toBe(409)
    expect(again.body).toMatchObject({ code: 'already_decided', flagStatus: 'dismissed' })
    expect((await api.post(url, { ...dismissal, reason: 'Other words' }, { key: 'once' })).status).toBe(422)
  })

  it('of two clinicians at once: one stands, the other is told', async () => {
    const { hold } = await heldVisit()
    const url = `/v1/flags/${hold.id}/resolution`
    const answers = await Promise.all([api.post(url, dismissal), api.post(url, { ...dismissal, status: 'confirmed' })])
    expect(answers.map(({ status }) => status).sort((a, b) => a - b)).toEqual([201, 409])
  })

  it('of a flag that an amendment replaced is refused', async () => {
    const { sessionId, hold } = await heldVisit()
    const owner = service.api(clinic.tokens.owner)
    const withdrawn = await owner.post(`/v1/sessions/${sessionId}/entered-in-error`, { reason: 'Other subject.' }, { headers: { 'if-match': '"1"' } }) // prettier-ignore
    expect(withdrawn.status, withdrawn.text).toBe(200)
    const late = await api.post(`/v1/flags/${hold.id}/resolution`, dismissal)
    expect(late.status).toBe(409)
    expect(late.body.code).toBe('already_decided')
  })

  it.each([
    ['no reason', { status: 'dismissed' }, '#/reason'],
    ['an empty reason', { status: 'dismissed', reason: '' }, '#/reason'],
    ['a status of its own', { status: 'open', reason: 'x' }, '#/status'],
    ['a field we do not know', { ...dismissal, by: 'me' }, '#/by'],
  ])('with %s is 400, and the flag stays open', async (_what, body, pointer) => {
    const { hold } = await heldVisit()
    const answer = await api.post(`/v1/flags/${hold.id}/resolution`, body)
    expect(answer.status).toBe(400)
    expect(answer.body.errors).toMatchObject([{ pointer }])
    expect((await api.get('/v1/flags')).text).toContain(hold.id)
  })

  it('needs an Idempotency-Key', async () => {
    const { hold } = await heldVisit()
    const answer = await api.post(`/v1/flags/${hold.id}/resolution`, dismissal, { key: null })
    expect(answer.body).toMatchObject({ status: 400, code: 'idempotency_key_required' })
  })

  it.each(['owner', 'assistant', 'integration', 'auditor'] as const)('is not for the role %s', async (role) => {
    const { hold } = await heldVisit()
    const answer = await service.api(clinic.tokens[role]).post(`/v1/flags/${hold.id}/resolution`, dismissal)
    expect(answer.status).toBe(403)
  })

  it('is not for a clinician without a licence on record, and that is in the audit log', async () => {
    const { hold } = await heldVisit()
    const sub = `trainee-${uuidv7()}`
    await withOwner(
      service.database.adminUrl,
      (client) =>
      addMember(client, { clinicId: clinic.clinicId, issuer: ISSUER, sub, role: 'clinician', displayName: 'Trainee', licence: undefined, identifiers: [] }), // prettier-ignore
    )
    const trainee = service.api(await service.mint({ sub, clinic: clinic.clinicId }))
    const answer = await trainee.post(`/v1/flags/${hold.id}/resolution`, dismissal)
    expect(answer.status).toBe(403)
    const { rows } = await withClient(
      service.database.adminUrl,
      (client) =>
      client.query('select outcome, details from audit_event where clinic_id = $1 and action = $2', [clinic.clinicId, 'flags.resolve']), // prettier-ignore
    )
    expect(rows).toEqual([{ outcome: 'refused', details: { code: 'forbidden' } }])
  })
})

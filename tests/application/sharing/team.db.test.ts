import { beforeAll, describe, expect, it } from 'vitest'
import { verifySignedReport } from '../../../src/application/reports/verify-signed-report.ts'
import { withClient } from '../../../src/store/migrate/with-client.ts'
import type { LooseDocument } from '../../fixtures/example-session.ts'
import { freshTeam, makeTestService } from '../../harness/clinic.ts'
import { testDatabase } from '../../harness/test-database.ts'
import { asTeam, clinicWorld, day, hopsOf, NOTE, type ClinicWorld } from '../../harness/sharing-clinic.ts'

const database = await testDatabase()
const service = await makeTestService(database)

const events = (clinicId: string, action: string) =>
  withClient(database.adminUrl, async (client) => {
    const { rows } = await client.query<LooseDocument>(
      `select purpose, outcome, actor_role, actor_principal_id, subject_ids, resource_ids, details, request_id
       from audit_event where clinic_id = $1 and action = $2 order by ord`,
      [clinicId, action],
    )
    return rows
  })

/** Every path of a document, with [] for each element of a list. */
function fields(value: unknown, at = ''): string[] {
  if (Array.isArray(value)) return [...new Set(value.flatMap((one) => fields(one, `${at}[]`)))]
  if (value === null || typeof value !== 'object') return [at]
  return [...new Set(Object.entries(value).flatMap(([key, one]) => fields(one, at === '' ? key : `${at}.${key}`)))]
}

const STATUS = [
  'teamReference', 'displayName', 'level', 'consentUntil', 'reportId', 'reportVersion', 'source.clinicName', 'evaluatedOn',
  'expiresOn', 'currency', 'criteriaSet.key', 'criteriaSet.version', 'counts.met', 'counts.notMet', 'counts.notAssessable',
  'decision.category', 'decision.decidedOn',
] // prettier-ignore
const CRITERIA = [...STATUS, 'criteriaSet.citation', 'criteria[].key', 'criteria[].verdict']
const MEASURES = [
  ...CRITERIA, 'criteria[].comparator', 'criteria[].threshold', 'criteria[].threshold.value', 'criteria[].threshold.unit',
  'criteria[].observed', 'criteria[].observed.value', 'criteria[].observed.unit', 'criteria[].observed.interval.low',
  'criteria[].observed.interval.high', 'criteria[].observed.interval.confidence', 'criteria[].intervalSpansThreshold',
] // prettier-ignore
const ROWS = { status: STATUS, criteria: CRITERIA, measures: MEASURES } as const

const SIGNED_BESIDE_ROW = [
  'format', 'projectionId', 'clinic.id', 'clinic.name', 'team.id', 'team.name', 'signedAt', 'signedBy.name', 'signedBy.role',
  'notes[]', 'salt',
] // prettier-ignore
/** In the row and not in what was signed: it is true today, and was not when it was signed. */
const ROW_ALONE = ['consentUntil', 'reportId', 'source.clinicName', 'currency']

describe('what a team gets', () => {
  let worlds: Record<'status' | 'criteria' | 'measures', ClinicWorld>
  let team: Awaited<ReturnType<typeof freshTeam>>
  let squad: LooseDocument
  const reports = new Map<string, LooseDocument>()
  beforeAll(async () => {
    team = await freshTeam(service)
    worlds = {
      status: await clinicWorld(service, '07'),
      criteria: await clinicWorld(service, '11'),
      measures: await clinicWorld(service, '15'),
    }
    for (const [level, world] of Object.entries(worlds)) {
      await world.invite(team.teamId)
      await world.subject.push(world.visit(day(-4)))
      await world.consent(team.teamId, { level })
      await world.sign()
    }
    squad = (await asTeam(service.api(team.token)).get('/v1/team/squad')).body
    for (const row of squad.rows) {
      const { body } = await asTeam(service.api(team.token)).get(`/v1/team/reports/${row.reportId}`)
      reports.set(row.level, body)
    }
  }, 120_000)

  it('is one row for each of its references, across clinics', () => {
    expect(squad.rows.map((row: LooseDocument) => [row.teamReference, row.level])).toEqual([
      ['CB-07', 'status'],
      ['CB-11', 'criteria'],
      ['CB-15', 'measures'],
    ])
    expect(squad.rows[0]).toMatchObject({
      counts: { met: 4, notMet: 1, notAssessable: 1 },
      currency: 'current',
      source: { clinicName: worlds.status.clinic.name },
      decision: { category: 'continue_rehabilitation', decidedOn: day(0) },
    })
  })

  it.each(['status', 'criteria', 'measures'] as const)(
    'holds at the level %s exactly the fields of that level, in row, report, signature and change: extra fields 0',
    async (level) => {
      const row = squad.rows.find((one: LooseDocument) => one.level === level)
      const allowed = new Set<string>(ROWS[level])
      const extra = (document: unknown, more: readonly string[] = []) =>
        fields(document).filter((field) => !allowed.has(field) && !more.includes(field))
      expect(extra(row)).toEqual([])
      const { report, jws, ...beside } = reports.get(level)
      expect(beside).toEqual(row)
      const signed = JSON.parse(Buffer.from(jws.split('.')[1], 'base64url').toString('utf8'))
      expect(signed).toEqual(report)
      expect(extra(signed, SIGNED_BESIDE_ROW)).toEqual([])
      const { body } = await asTeam(service.api(team.token)).get('/v1/team/reports')
      const change = body.items.find((one: LooseDocument) => one.level === level)
      expect(change).toEqual({ change: 'report', ...row })
      // And none of its own fields is missing: the level is what was agreed, not less.
      const optional = [
        'criteria[].threshold',
        'criteria[].observed',
        ...MEASURES.filter((f) => f.includes('interval.')),
      ]
      expect([...allowed].filter((field) => !fields(row).includes(field) && !optional.includes(field))).toEqual([])
      expect(ROW_ALONE.every((field) => fields(row).includes(field))).toBe(true)
    },
  )

  it('never has a note, a birth date, an identifier, an id of the clinic’s or another subject in it', async () => {
    const all = JSON.stringify([squad, ...reports.values()])
    for (const world of Object.values(worlds)) {
      const { body } = await world.clinician.get(`/v1/episodes/${world.subject.episodeId}/reports`)
      const { body: whole } = await world.clinician.get(`/v1/reports/${body.items[0].id}`)
      const ids = [world.subject.subjectId, world.subject.episodeId, whole.id, whole.report.evaluation.id]
      const evidence = whole.basis.map((one: LooseDocument) => one.id)
      for (const secret of [
        ...ids,
        ...evidence,
        NOTE,
        'Example, Avery',
        '2001-03-14',
        'RB-',
        'record-number',
        'female',
        'folder 12',
      ])
        expect(all, secret).not.toContain(secret)
    }
  })

  it('verifies offline with the keys of the clinic that signed, and of no other', async () => {
    const keys = async (world: ClinicWorld) =>
      (await service.api(null).get(`/.well-known/limb-ledger/clinics/${world.clinic.clinicId}/jwks.json`)).text
    for (const [level, { report, jws }] of reports) {
      for (const [other, world] of Object.entries(worlds)) {
        const found = await verifySignedReport(JSON.stringify({ report, jws }), await keys(world))
        expect(found.authentic, `${level} with the keys of ${other}`).toBe(level === other)
      }
      const bare = await asTeam(service.api(team.token)).get<string>(`/v1/team/reports/${report.projectionId}`, {
        accept: 'application/jose',
      })
      expect(bare.body).toBe(jws)
      expect(report).toMatchObject({ teamReference: expect.stringMatching(/^CB-/), team: { id: team.teamId } })
    }
  })

  it('is known to each team under ids of its own', async () => {
    const second = await freshTeam(service)
    const world = worlds.status
    await world.invite(second.teamId)
    await world.consent(second.teamId)
    const { body } = await asTeam(service.api(second.token)).get('/v1/team/squad')
    expect(body.rows).toHaveLength(1)
    const mine = squad.rows.find((row: LooseDocument) => row.teamReference === 'CB-07').reportId
    expect(body.rows[0].reportId).not.toBe(mine)
    expect((await asTeam(service.api(second.token)).get(`/v1/team/reports/${mine}`)).status).toBe(404)
  })

  it('comes as CSV too, where a cell that a spreadsheet would run is only text', async () => {
    const world = await clinicWorld(service, '20')
    const own = await freshTeam(service)
    await world.invite(own.teamId)
    await world.subject.push(world.visit(day(-2)))
    await world.sign()
    await world.consent(own.teamId, { level: 'measures', displayName: '=HYPERLINK("x"),1', teamReference: '-7' })
    const answer = await asTeam(service.api(own.token)).get<string>('/v1/team/squad', { accept: 'text/csv' })
    expect(answer.headers['content-type']).toBe('text/csv; charset=utf-8; header=present')
    const [header, line] = answer.body.split('\r\n')
    expect(header).toMatch(/^teamReference,displayName,level,source,/)
    expect(line).toMatch(/^"'-7","'=HYPERLINK\(""x""\),1",measures,/)
    expect(line).toMatch(/crossover-hop not_met 88\.683127572\d+ % > 90 %/)
    expect(line).not.toContain(NOTE)
  })

  it('leaves one event in the log of each clinic concerned, with purpose and subjects, before the answer', async () => {
    const before = await Promise.all(
      Object.values(worlds).map((world) => events(world.clinic.clinicId, 'team.squad.read')),
    )
    const answer = await asTeam(service.api(team.token)).get('/v1/team/squad')
    for (const [index, world] of Object.values(worlds).entries()) {
      const after = await events(world.clinic.clinicId, 'team.squad.read')
      expect(after).toHaveLength((before[index]?.length ?? 0) + 1)
      const row = answer.body.rows.find((one: LooseDocument) => one.source.clinicName === world.clinic.name)
      expect(after.at(-1)).toMatchObject({
        purpose: 'availability-planning',
        outcome: 'done',
        actor_role: 'team_reader',
        subject_ids: [world.subject.subjectId],
        request_id: answer.headers['x-request-id'],
        resource_ids: [`team/${team.teamId}`, `shared_report/${row.reportId}`],
        details: { form: 'json', shown: 1 },
      })
    }
  })
})

describe('a pull', () => {
  let world: ClinicWorld
  let team: Awaited<ReturnType<typeof freshTeam>>
  beforeAll(async () => {
    world = await clinicWorld(service, '31')
    team = await freshTeam(service)
    await world.invite(team.teamId)
    await world.subject.push(world.visit(day(-3)))
    await world.consent(team.teamId, { purposes: ['availability-planning', 'travel'] })
    await world.sign()
  })

  it('needs a purpose, and one that a consent in force names', async () => {
    const api = service.api(team.token)
    for (const url of ['/v1/team/squad', '/v1/team/reports', '/v1/team/reports/019c222e-8500-7c75-b636-d85099090016']) {
      expect((await api.get(url)).body.code).toBe('purpose_required')
      expect((await api.get(url, { headers: { Purpose: 'Have a look at him' } })).body.code).toBe('purpose_required')
    }
    const other = { Purpose: 'marketing' }
    expect((await api.get('/v1/team/squad', { headers: other })).body.code).toBe('purpose_not_agreed')
    expect((await api.get('/v1/team/reports', { headers: other })).body.items).toEqual([])
    const { body } = await api.get('/v1/team/squad', { headers: { Purpose: 'travel' } })
    expect(body.rows).toHaveLength(1)
    const { reportId } = body.rows[0]
    expect((await api.get(`/v1/team/reports/${reportId}`, { headers: other })).status).toBe(404)
    expect((await api.get(`/v1/team/reports/${reportId}`, { headers: { Purpose: 'travel' } })).status).toBe(200)
  })

  it('is for readers of teams alone', async () => {
    for (const token of Object.values(world.clinic.tokens))
      expect((await asTeam(service.api(token)).get('/v1/team/squad')).status).toBe(403)
    expect((await asTeam(service.api(null)).get('/v1/team/squad')).status).toBe(401)
  })

  it('shows nothing to a team without a consent, and nothing of a consent to another team', async () => {
    const stranger = await freshTeam(service)
    expect((await asTeam(service.api(stranger.token)).get('/v1/team/squad')).body.code).toBe('purpose_not_agreed')
    expect((await asTeam(service.api(stranger.token)).get('/v1/team/reports')).body.items).toEqual([])
  })

  it('shows nothing where its event can’t be written', async () => {
    await withClient(database.adminUrl, (client) =>
      client.query('alter table audit_event add constraint no_team check (actor_role <> $$team_reader$$) not valid'),
    )
    try {
      const answer = await asTeam(service.api(team.token)).get('/v1/team/squad')
      expect([answer.status, answer.body.code, answer.body.rows]).toEqual([503, 'audit_unavailable', undefined])
    } finally {
      await withClient(database.adminUrl, (client) => client.query('alter table audit_event drop constraint no_team'))
    }
  })
})

describe('what a team sees of time', () => {
  it('a report is current, followed by a newer test, affected by an amendment, or stale', async () => {
    const world = await clinicWorld(service, '41')
    const team = await freshTeam(service)
    await world.invite(team.teamId)
    await world.consent(team.teamId)
    const document = world.visit(day(-20))
    const { body: pushed, headers } = await world.subject.push(document)
    const currency = async () => (await asTeam(service.api(team.token)).get('/v1/team/squad')).body.rows[0]?.currency
    expect(await currency()).toBeUndefined()
    await world.sign({ on: day(-19) })
    expect(await currency()).toBe('current')
    await world.subject.push(world.visit(day(-1)))
    expect(await currency()).toBe('newer_test_exists')
    document.bodyMass.value = 71
    const amended = await world.clinician.post(`/v1/sessions/${pushed.session.id}/amendments`, { reason: 'Scale', session: document }, { headers: { 'if-match': headers.etag ?? '' } }) // prettier-ignore
    expect(amended.status, amended.text).toBe(200)
    expect(await currency()).toBe('affected_by_amendment')
    await world.sign()
    expect(await currency()).toBe('current')
    await world.sign({ on: day(-60), criteriaSet: { key: 'grindem-2020' } })
    expect(await currency()).toBe('stale')
  })

  it('a change feed tells what appeared and, in one word whatever the cause, what went', async () => {
    const world = await clinicWorld(service, '42')
    const team = await freshTeam(service)
    const api = asTeam(service.api(team.token))
    await world.invite(team.teamId)
    await world.subject.push(world.visit(day(-3)))
    const consent = await world.consent(team.teamId)
    const first = await world.sign()
    const seen = await api.get('/v1/team/reports')
    expect(seen.body.items).toMatchObject([{ change: 'report', reportVersion: 1 }])
    const { reportId } = seen.body.items[0]

    // A next version keeps the id that the team knows.
    const next = {
      criteriaSet: { key: 'kyritsis-2016' },
      on: day(0),
      decision: 'progress_stage',
      note: 'x',
      reason: 'y',
    }
    await world.clinician.post(`/v1/reports/${first.id}/versions`, next)
    const second = await api.get(`/v1/team/reports?since=${seen.body.nextSince}`)
    expect(second.body.items).toMatchObject([{ change: 'report', reportId, reportVersion: 2, decision: { category: 'progress_stage' } }]) // prettier-ignore

    // Withdrawn; then another is signed, and its consent revoked: the two ends look the same.
    await world.clinician.post(`/v1/reports/${first.id}/withdrawal`, { reason: 'Other person' })
    expect((await api.get(`/v1/team/reports/${reportId}`)).status).toBe(404)
    await world.sign()
    const third = (await api.get('/v1/team/squad')).body.rows[0].reportId
    await world.clinician.post(`/v1/consents/${consent.id}/revocation`, { reason: 'Changed clubs' })
    const after = await api.get(`/v1/team/reports?since=${seen.body.nextSince}`)
    expect(after.body.items).toEqual([
      { change: 'gone', reportId },
      { change: 'gone', reportId: third },
    ])

    // Page by page it says the same.
    const one = await api.get('/v1/team/reports?limit=1')
    const two = await api.get(`/v1/team/reports?limit=1&since=${one.body.nextSince}`)
    expect([one.body.more, two.body.more]).toEqual([true, false])
    expect([...one.body.items, ...two.body.items]).toEqual(after.body.items)
    for (const since of ['x', Buffer.from('t1 yesterday 019c222e-8500-7c75-b636-d85099090016').toString('base64url')])
      expect((await api.get(`/v1/team/reports?since=${since}`)).body.code).toBe('invalid_cursor')
  })

  it('nothing older returns when the latest report is withdrawn', async () => {
    const world = await clinicWorld(service, '43')
    const team = await freshTeam(service)
    await world.invite(team.teamId)
    await world.consent(team.teamId)
    await world.subject.push(world.visit(day(-3), (document) => (document.functionalResults = hopsOf(460))))
    await world.sign()
    const latest = await world.sign({ decision: 'other' })
    await world.clinician.post(`/v1/reports/${latest.id}/withdrawal`, { reason: 'Other person' })
    expect((await asTeam(service.api(team.token)).get('/v1/team/squad')).body.rows).toEqual([])
  })
})

import { describe, expect, it } from 'vitest'
import { sealNow } from '../../../src/ledger/sealer.ts'
import { TABLE_CLASSES } from '../../../src/store/table-classes.ts'
import { SUBJECT_TABLES } from '../../../src/store/subject-archive-store.ts'
import { withClient } from '../../../src/store/migrate/with-client.ts'
import { asTeam, clinicWorld, day } from '../../harness/sharing-clinic.ts'
import { makeWorld, recorded, worldIn } from '../../application/sessions/documents.ts'
import type { LooseDocument } from '../../fixtures/example-session.ts'
import { freshClinic, freshTeam, makeTestService, type Api } from '../../harness/clinic.ts'
import { makeTestLedger } from '../../harness/ledger.ts'
import { createSubject, subjectBody } from '../../harness/samples.ts'
import { testDatabase } from '../../harness/test-database.ts'

const database = await testDatabase()
const ledger = await makeTestLedger(database)
const service = await makeTestService(database, { ledger })

async function rowsThatHold(text: string): Promise<string[]> {
  return withClient(database.adminUrl, async (client) => {
    const found: string[] = []
    for (const table of Object.keys(TABLE_CLASSES)) {
      const { rows } = await client.query<{ n: number }>(
        `select count(*)::int as n from ${table} t where strpos(t::text, $1) > 0`,
        [text],
      )
      if (rows[0]!.n > 0) found.push(table)
    }
    return found
  })
}

/** Bytes are shown as hex by Postgres: entries of the ledger, digests, encrypted keys. */
const inHex = (text: string): string => Buffer.from(text, 'utf8').toString('hex')

async function tamperProof(api: Api, clinicId: string): Promise<LooseDocument> {
  const deps = { ...ledger.deps, waitForLockMs: 20_000 }
  expect((await sealNow(ledger.sealerPool, clinicId, deps, 20_000))?.complete).toBe(true)
  const answer = await api.post<string>('/v1/audit/verification', {})
  return JSON.parse(answer.body.trimEnd().split('\n').at(-1)!).report
}

const erase = (api: Api, subjectId: string, ground = 'subject_request') =>
  api.post(`/v1/subjects/${subjectId}/erasure`, { ground, subjectId })

/** One person with a row in every table that can hold one, and a word that stands for them in every free text. */
async function wholeLife(canary: string) {
  const world = await clinicWorld(service, 'RB-77')
  const { clinician, owner, subject, clinic } = world
  const { subjectId, episodeId, dynamometerId } = subject
  const ok = (answer: { status: number; text: string; body: LooseDocument }): LooseDocument => {
    expect([200, 201], answer.text).toContain(answer.status)
    return answer.body
  }
  ok(await clinician.put(`/v1/subjects/${subjectId}`, { ...subjectBody(canary), name: canary, sport: canary }, '"1"')) // prettier-ignore
  const first = ok(await subject.push(world.visit('2026-06-02')))
  const doomed = ok(await subject.push(world.visit('2026-06-09')))
  const amended = world.visit('2026-06-02', (document) => (document.externalId = first.session.externalId))
  ok(await clinician.post(`/v1/sessions/${first.session.id}/amendments`, { reason: `${canary} was weighed again`, session: amended }, { headers: { 'if-match': '"1"' } })) // prettier-ignore
  ok(await owner.post(`/v1/sessions/${doomed.session.id}/entered-in-error`, { reason: `${canary} was not there` }, { headers: { 'if-match': '"1"' } })) // prettier-ignore
  ok(await subject.push(world.visit(day(-3))))
  const flags = (await clinician.get('/v1/flags')).body.items as { id: string; subjectId: string }[]
  if (flags[0] !== undefined) ok(await clinician.post(`/v1/flags/${flags[0].id}/resolution`, { status: 'dismissed', reason: `${canary} said so` })) // prettier-ignore
  ok(await clinician.post(`/v1/episodes/${episodeId}/observations`, { key: 'on_field_rehabilitation', value: 'completed', observedOn: '2026-11-19', note: canary })) // prettier-ignore
  ok(await clinician.post(`/v1/subjects/${subjectId}/reference-setups`, { session: { id: first.session.id }, setup: 'right-knee', reason: canary })) // prettier-ignore
  const directions = [{ movement: 'extension', contractionMode: 'isokinetic_concentric', velocity: { value: 60, unit: 'deg/s' } }] // prettier-ignore
  ok(await clinician.post(`/v1/subjects/${subjectId}/test-plans`, { joint: 'knee', side: 'right', dynamometer: { id: dynamometerId }, plannedOn: '2026-12-01', sets: [{ directions, contractionScheme: 'single_direction', intendedRepetitions: 5 }] })) // prettier-ignore
  const team = await freshTeam(service)
  await world.invite(team.teamId)
  await world.consent(team.teamId, { level: 'measures', displayName: canary, documentReference: canary })
  await world.sign({ note: canary })
  const squad = await asTeam(service.api(team.token)).get('/v1/team/squad')
  expect(squad.status, squad.text).toBe(200)
  expect(squad.text).toContain(canary)
  const hold = ok(await owner.post(`/v1/subjects/${subjectId}/legal-holds`, { reason: `${canary} v. clinic` }))
  return { ...world, clinicId: clinic.clinicId, subjectId, episodeId, sessionId: first.session.id as string, holdId: hold.id as string, team } // prettier-ignore
}

describe('a whole life of one person in the clinic', () => {
  it('is exported as one archive: every table, recordings sample by sample, and who has seen it', async () => {
    const canary = 'Canarybird-of-export'
    const { owner, subjectId, team } = await wholeLife(canary)
    const answer = await owner.get(`/v1/subjects/${subjectId}/export`)
    expect(answer.status).toBe(200)
    const archive = answer.body as Record<string, LooseDocument[]>
    const empty = Object.keys(SUBJECT_TABLES).filter((section) => archive[section]!.length === 0)
    expect(empty).toEqual([])
    expect(archive['complete']).toBe('yes')
    expect(archive['versions']!.map((version) => version.document.name)).toContain(canary)
    expect(archive['sessionVersions']!.length).toBeGreaterThanOrEqual(5)
    expect(archive['recordings']!.length).toBeGreaterThanOrEqual(4)
    for (const recording of archive['recordings']!) {
      expect(recording.channels.length).toBeGreaterThanOrEqual(2)
      expect(recording.channels[0].values.length).toBe(recording.header.sampleCount)
    }
    const actions = archive['disclosures']!.map((disclosure) => disclosure.action)
    expect(actions).toContain('subjects.export')
    const pull = archive['disclosures']!.find((disclosure) => disclosure.action === 'team.squad.read')
    expect(pull?.team).toEqual({ id: team.teamId, name: 'Team of a test' })
    expect(JSON.stringify(archive)).not.toContain('clinicId')
  }, 120_000)

  it('is not erased while a legal hold is in force, and is gone from every table once it is released', async () => {
    const canary = 'Canarybird-to-erase'
    const life = await wholeLife(canary)
    const { owner, clinician, subjectId, episodeId, sessionId, clinicId } = life
    const held = await erase(owner, subjectId)
    expect([held.status, held.body.code]).toEqual([409, 'legal_hold'])
    expect(held.body.legalHolds).toEqual([life.holdId])
    expect((await clinician.get(`/v1/subjects/${subjectId}`)).status).toBe(200)
    await owner.post(`/v1/subjects/${subjectId}/legal-holds/${life.holdId}/release`, { reason: `${canary} settled` })

    const events = (await owner.get(`/v1/audit/events?subjectId=${subjectId}&limit=200`)).body.items as LooseDocument[]
    const reasons = events.flatMap((event) => ('reason' in event.details ? [event.details.reason.text as string] : []))
    expect(reasons.length).toBeGreaterThanOrEqual(4)
    expect(reasons.every((reason) => reason.includes(canary))).toBe(true)

    const before = await withClient(database.adminUrl, async (client) => {
      const { rows } = await client.query<{ entry: string }>(
        `select l.seq || encode(l.leaf_hash, 'hex') as entry from audit_leaf l where l.clinic_id = $1 order by seq`,
        [clinicId],
      )
      return rows
    })
    const erased = await erase(owner, subjectId)
    expect(erased.status, erased.text).toBe(201)
    expect(erased.body.erased).toMatchObject({ sessions: 3, consents: 1, reports: 1, evaluations: 1, sharedReports: 1 })
    expect(erased.body.cannotBeRecalled.teamReads).toBe(1)
    expect(erased.body.cannotBeRecalled.statement).toMatch(/cannot be recalled/)

    // Nothing that was ever written about the person is left, in clear or in bytes.
    for (const text of [canary, inHex(canary), sessionId, episodeId]) {
      const tables = (await rowsThatHold(text)).filter((table) => !['audit_event', 'audit_leaf'].includes(table))
      expect({ text, tables }).toEqual({ text, tables: [] })
    }
    for (const text of [canary, inHex(canary)]) expect(await rowsThatHold(text)).toEqual([])
    expect((await rowsThatHold(subjectId)).sort()).toEqual([
      'audit_disclosure',
      'audit_event',
      'erasure',
      'idempotency',
    ])
    for (const url of [`/v1/subjects/${subjectId}`, `/v1/sessions/${sessionId}`, `/v1/episodes/${episodeId}`])
      expect((await clinician.get(url)).status, url).toBe(404)
    expect((await asTeam(service.api(life.team.token)).get('/v1/team/squad')).text).not.toContain(canary)
    expect((await clinician.post('/v1/episodes', { subject: { id: subjectId }, joint: 'knee', involvedSide: 'right', otherLimbHistory: 'none_known' })).body.code).toBe('reference_not_found') // prettier-ignore

    // The texts in the ledger can no longer be read; the ledger is the same, goes on and verifies.
    const after = (await owner.get(`/v1/audit/events?subjectId=${subjectId}&limit=200`)).body.items as LooseDocument[]
    const left = after.flatMap((event) => ('reason' in event.details ? [event.details.reason] : []))
    expect(left.length).toBe(reasons.length)
    for (const text of left) expect(text).toEqual({ subjectId, text: null, reason: 'erased' })
    const report = await tamperProof(owner, clinicId)
    expect(report).toMatchObject({ verdict: 'intact', firstBad: null })
    const again = await withClient(database.adminUrl, async (client) => {
      const { rows } = await client.query<{ entry: string }>(
        `select l.seq || encode(l.leaf_hash, 'hex') as entry from audit_leaf l where l.clinic_id = $1 order by seq`,
        [clinicId],
      )
      return rows
    })
    expect(again.slice(0, before.length)).toEqual(before)

    // Who had seen the person can still be said, and that it was erased.
    const disclosures = await owner.get(`/v1/subjects/${subjectId}/disclosures?limit=200`)
    expect(disclosures.body.erasedAt).toBe(erased.body.erasedAt)
    const pull = disclosures.body.items.find((item: LooseDocument) => item.action === 'team.squad.read')
    expect(pull).toMatchObject({ team: { id: life.team.teamId, name: 'Team of a test' }, purpose: 'availability-planning', actor: { role: 'team_reader' } }) // prettier-ignore
    expect(new Set(disclosures.body.items.flatMap((item: LooseDocument) => (item === pull ? [] : [item.team])))).toEqual(new Set([null])) // prettier-ignore
  }, 120_000)
})

describe('an erasure', () => {
  it('is for the owner, names the subject twice, states its ground, and happens once', async () => {
    const clinic = await freshClinic(service)
    const owner = service.api(clinic.tokens.owner)
    const subjectId = await createSubject(owner)
    for (const role of ['clinician', 'assistant', 'integration', 'auditor'] as const) {
      const api = service.api(clinic.tokens[role])
      expect((await erase(api, subjectId)).status).toBe(403)
      expect((await api.get(`/v1/subjects/${subjectId}/export`)).status).toBe(403)
    }
    const url = `/v1/subjects/${subjectId}/erasure`
    const other = await createSubject(owner, 'other')
    expect((await owner.post(url, { ground: 'subject_request', subjectId: other })).status).toBe(400)
    expect((await owner.post(url, { ground: 'tidying up', subjectId })).status).toBe(400)
    expect((await owner.post(url, { subjectId })).status).toBe(400)
    expect((await owner.post(url, { ground: 'subject_request', subjectId }, { key: null })).status).toBe(400)
    expect((await owner.get(`/v1/subjects/${subjectId}`)).status).toBe(200)
    const first = await owner.post(url, { ground: 'subject_request', subjectId }, { key: 'once' })
    expect(first.status).toBe(201)
    const replayed = await owner.post(url, { ground: 'subject_request', subjectId }, { key: 'once' })
    expect(replayed.text).toBe(first.text)
    expect((await erase(owner, subjectId)).status).toBe(404)
    expect((await erase(owner, other)).status).toBe(201)
  })

  it('takes the answers kept for retries with it: the same key is new again', async () => {
    const owner = service.api((await freshClinic(service)).tokens.owner)
    const created = await owner.post('/v1/subjects', subjectBody('kept'), { key: 'k-1' })
    await erase(owner, created.body.id)
    const again = await owner.post('/v1/subjects', subjectBody('kept'), { key: 'k-1' })
    expect(again.status).toBe(201)
    expect(again.body.id).not.toBe(created.body.id)
  })

  it('leaves the recordings and sessions of others, even where the samples are the same', async () => {
    const world = await makeWorld(service)
    const twin = await worldIn(service, world.clinic, 'RB-2')
    const mine = await world.push(recorded(world.visit('2026-06-02'), 7))
    const theirs = await twin.push(recorded(twin.visit('2026-06-03'), 7))
    const set = 'right-60'
    const recordingOf = (session: LooseDocument) => world.clinician.get(`/v1/sessions/${session.body.session.id}/sets/${set}/recording`) // prettier-ignore
    const before = await recordingOf(theirs)
    expect(before.body.sha256).toBe((await recordingOf(mine)).body.sha256)
    const answer = await erase(world.owner, world.subjectId)
    expect(answer.body.erased).toMatchObject({ sessions: 1, recordings: 0 })
    expect((await recordingOf(mine)).status).toBe(404)
    expect((await recordingOf(theirs)).body.channels).toEqual(before.body.channels)
    expect((await erase(world.owner, twin.subjectId)).body.erased.recordings).toBe(2)
  }, 60_000)

  it('of whom a session was wrongly filed under takes that version; of whom it belongs to takes every version', async () => {
    const world = await makeWorld(service)
    const twin = await worldIn(service, world.clinic, 'RB-2')
    const file = async () => {
      const pushed = await world.pushVisit('2026-06-02')
      const document = twin.visit('2026-06-02', { change: (d) => (d.externalId = pushed.session.externalId) })
      const moved = await world.clinician.post(`/v1/sessions/${pushed.session.id}/amendments`, { reason: 'Wrong person', session: document }, { headers: { 'if-match': '"1"' } }) // prettier-ignore
      expect(moved.status, moved.text).toBe(200)
      return pushed.session.id as string
    }
    const sessionId = await file()
    expect((await erase(world.owner, world.subjectId)).status).toBe(201)
    const left = await world.clinician.get(`/v1/sessions/${sessionId}/versions`)
    expect(left.body.items.map((version: LooseDocument) => version.version)).toEqual([2])
    expect((await world.clinician.get(`/v1/sessions/${sessionId}`)).status).toBe(200)
    expect((await erase(world.owner, twin.subjectId)).status).toBe(201)
    expect((await world.clinician.get(`/v1/sessions/${sessionId}`)).status).toBe(404)
    expect(await rowsThatHold(sessionId)).toEqual(['audit_event'])
  }, 60_000)

  it('cannot reach another clinic: its subject is answered like one that never was', async () => {
    const [ours, theirs] = [await freshClinic(service), await freshClinic(service)]
    const subjectId = await createSubject(service.api(theirs.tokens.owner))
    const owner = service.api(ours.tokens.owner)
    expect((await erase(owner, subjectId)).status).toBe(404)
    for (const url of ['export', 'disclosures', 'legal-holds'])
      expect((await owner.get(`/v1/subjects/${subjectId}/${url}`)).status, url).toBe(404)
    // Nor can the function itself, whoever calls it.
    const rows = await withClient(database.appUrl, async (client) => {
      await client.query('begin')
      await client.query(`select set_config('app.clinic_id', $1, true)`, [ours.clinicId])
      const { rows: answer } = await client.query(`select erase_subject($1, 'subject_request', $1, now()) as erased`, [subjectId]) // prettier-ignore
      await client.query('commit')
      return answer
    })
    expect(rows).toEqual([{ erased: null }])
    expect((await service.api(theirs.tokens.owner).get(`/v1/subjects/${subjectId}`)).status).toBe(200)
  })

  it('at the same moment as a legal hold is refused, or leaves nobody to hold', async () => {
    const outcomes = new Set<string>()
    const owner = service.api((await freshClinic(service)).tokens.owner)
    for (let round = 0; round < 12; round++) {
      const subjectId = await createSubject(owner, `H-${round}`)
      const hold = () => owner.post(`/v1/subjects/${subjectId}/legal-holds`, { reason: 'A proceeding.' })
      const both = round % 2 === 0 ? [hold(), erase(owner, subjectId)] : [erase(owner, subjectId), hold()].reverse()
      const [held, erased] = await Promise.all(both as [ReturnType<typeof hold>, ReturnType<typeof erase>])
      outcomes.add(`${held.status} ${erased.status}`)
      expect((await owner.get(`/v1/subjects/${subjectId}`)).status).toBe(erased.status === 201 ? 404 : 200)
    }
    expect([...outcomes].filter((outcome) => !['201 409', '404 201'].includes(outcome))).toEqual([])
  }, 60_000)

  it('at the same moment as a push leaves nothing half there', async () => {
    for (let round = 0; round < 4; round++) {
      const world = await makeWorld(service)
      const document = world.visit('2026-06-02')
      const [pushed, erased] = await Promise.all([
        world.machine.post('/v1/sessions', document),
        erase(world.owner, world.subjectId),
      ])
      expect(erased.status, erased.text).toBe(201)
      expect([201, 422]).toContain(pushed.status)
      expect((await rowsThatHold(world.subjectId)).filter((table) => !table.startsWith('audit_')).sort()).toEqual(['erasure', 'idempotency']) // prettier-ignore
    }
  }, 60_000)
})

/** Tables with a column that names subjects, and all that refer to one of those, by a key or by a column of its name. */
async function tablesThatLeadToSubjects(): Promise<string[]> {
  return withClient(database.adminUrl, async (client) => {
    const { rows } = await client.query<{ table: string }>(
      `with recursive
         columns as (
           select c.relname::text as "table", a.attname::text as name from pg_class c
           join pg_attribute a on a.attrelid = c.oid and a.attnum > 0 and not a.attisdropped
           where c.relnamespace = 'public'::regnamespace and c.relkind in ('r', 'p')),
         refers as (
           select conrelid::regclass::text as "from", confrelid::regclass::text as "to" from pg_constraint where contype = 'f'
           union select c."table", t."table" from columns c join columns t on c.name = t."table" || '_id'),
         found as (
           select "table" from columns where name in ('subject_id', 'subject_ids')
           union select r."from" from refers r join found f on f."table" = r."to")
       select distinct "table" from found order by 1`,
    )
    return rows.map(({ table }) => table)
  })
}

describe('every table of a clinic', () => {
  /** Why the rows of a table stay when a person is erased. */
  const STAY: Readonly<Record<string, string>> = {
    membership: 'members of the clinic',
    member_identifier: 'members of the clinic',
    dynamometer: 'a machine',
    dynamometer_description: 'a machine',
    calibration_check: 'a machine',
    comparability_key: 'positions of a machine, which no result points at any more',
    comparability_overrides: 'rules of the clinic',
    criteria_set: 'rules of the clinic',
    measurement_error: 'statistics over several people',
    team_invitation: 'a team',
    erasure: 'that a subject was erased',
    audit_event: 'ids and code words; texts about people only under their keys',
    audit_disclosure: 'ids',
    audit_leaf: 'ids and code words; texts about people only under their keys',
    tree_head: 'digests',
  }
  /** Shown in an archive, and stays: tells a team that what it could read is gone. */
  const SHOWN_AND_STAYS = ['report_share']
  /** Erased, and shown in an archive by another way than as rows. */
  const BESIDE = ['subject', 'subject_key', 'recording', 'recording_blob', 'idempotency']

  it('is either in the archive and erased with its subject, or stays for a reason', () => {
    const shown = Object.values(SUBJECT_TABLES).map(([table]) => table as string)
    const tenant = Object.entries(TABLE_CLASSES).filter(([, kind]) => kind === 'tenant').map(([table]) => table) // prettier-ignore
    expect([...shown, ...BESIDE, ...Object.keys(STAY)].sort()).toEqual(tenant.sort())
  })

  it('that leads to a subject, as the catalogue shows it, is in the archive and erased; but for the ledger', async () => {
    const ledgers = ['audit_event', 'audit_disclosure', 'audit_leaf', 'erasure']
    const leading = await tablesThatLeadToSubjects()
    const shown = Object.values(SUBJECT_TABLES).map(([table]) => table as string)
    expect(leading.filter((table) => ![...shown, ...BESIDE, ...ledgers].includes(table))).toEqual([])
    // Found by itself, whatever the lists say: nothing of them may be missed.
    expect(shown.filter((table) => !leading.includes(table))).toEqual([])
    expect(ledgers.filter((table) => !leading.includes(table))).toEqual([])
  })

  it('that is in the archive is emptied by the one function that may', async () => {
    const body = await withClient(database.adminUrl, async (client) => {
      const { rows } = await client.query<{ body: string }>(`select prosrc as body from pg_proc where proname = 'erase_subject'`) // prettier-ignore
      return rows[0]!.body
    })
    const emptied = [...body.matchAll(/delete from (\w+)/g)].map(([, table]) => table!)
    const shown = Object.values(SUBJECT_TABLES).map(([table]) => table as string)
    expect(emptied.sort()).toEqual([...shown, ...BESIDE].filter((table) => !SHOWN_AND_STAYS.includes(table)).sort())
  })
})

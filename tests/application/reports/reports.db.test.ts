import { createHash } from 'node:crypto'
import { v7 as uuidv7 } from 'uuid'
import { beforeAll, describe, expect, it } from 'vitest'
import { verifySignedReport } from '../../../src/application/reports/verify-signed-report.ts'
import { canonicalJson } from '../../../src/domain/canonical-json.ts'
import type { LooseDocument } from '../../fixtures/example-session.ts'
import { addMember, withOwner } from '../../../src/store/admin-store.ts'
import { ISSUER, makeTestService } from '../../harness/clinic.ts'
import { testDatabase } from '../../harness/test-database.ts'
import { clinicWorld, day, NOTE, type ClinicWorld } from '../../harness/sharing-clinic.ts'

const service = await makeTestService(await testDatabase())
const keysOf = async (clinicId: string) =>
  (await service.api(null).get<string>(`/.well-known/limb-ledger/clinics/${clinicId}/jwks.json`)).text

describe('a signed report', () => {
  let world: ClinicWorld
  let visit: LooseDocument
  let signed: LooseDocument
  beforeAll(async () => {
    world = await clinicWorld(service, 'R-1')
    visit = (await world.subject.push(world.visit(day(-5)))).body
    signed = await world.sign()
  })

  it('says what the readiness of that day says, with a decision by name and role', async () => {
    const url = `/v1/episodes/${world.subject.episodeId}/readiness?criteriaSet=kyritsis-2016&on=${day(0)}&asKnownAt=${encodeURIComponent(signed.signedAt)}`
    const { body: readiness } = await world.clinician.get(url)
    const { criteria, counts, overall, criteriaSet, toAssess } = signed.report
    expect({ criteria, counts, overall, criteriaSet, toAssess }).toEqual({
      criteria: readiness.criteria,
      counts: readiness.counts,
      overall: readiness.overall,
      criteriaSet: readiness.criteriaSet,
      toAssess: readiness.toAssess,
    })
    expect(signed.report.counts).toEqual({ met: 4, notMet: 1, notAssessable: 1 })
    expect(signed.report.decision).toEqual({ category: 'continue_rehabilitation', decidedOn: day(0), note: NOTE })
    expect(signed.report.signedBy).toMatchObject({ name: 'Member, clinician', role: 'clinician' })
    expect(signed).toMatchObject({ version: 1, state: 'signed', currency: 'current', evaluatedOn: day(0) })
    // Evidence of five days ago counts for 28 days.
    expect(signed.expiresOn).toBe(day(24))
  })

  it('is signed over its canonical form with a key that the clinic publishes', async () => {
    const keys = await keysOf(world.clinic.clinicId)
    const verified = await verifySignedReport(JSON.stringify({ report: signed.report, jws: signed.jws }), keys)
    expect(verified).toMatchObject({ authentic: true, keyId: signed.keyId, report: signed.report })
    const payload = Buffer.from(signed.jws.split('.')[1], 'base64url').toString('utf8')
    expect(payload).toBe(canonicalJson(signed.report))
    expect(signed.sha256).toBe(createHash('sha256').update(payload).digest('hex'))
  })

  it('has one signed projection for each level of consent, each with less in it, none with the note or an identifier', async () => {
    const keys = await keysOf(world.clinic.clinicId)
    const sizes: number[] = []
    for (const level of ['status', 'criteria', 'measures']) {
      const { body } = await world.clinician.get(`/v1/reports/${signed.id}/projections/${level}`)
      expect(await verifySignedReport(JSON.stringify(body), keys)).toMatchObject({ authentic: true })
      const bare = await world.clinician.get<string>(`/v1/reports/${signed.id}/projections/${level}`, {
        headers: { accept: 'application/jose' },
      })
      expect(bare.body).toBe(body.jws)
      expect(body.report.level).toBe(level)
      for (const secret of [NOTE, 'RB-', 'R-1', world.subject.subjectId, world.subject.episodeId, signed.id, '2001-03-14'])
        expect(JSON.stringify(body.report)).not.toContain(secret)
      sizes.push(JSON.stringify(body.report).length)
    }
    expect(sizes).toEqual([...sizes].sort((a, b) => a - b))
    expect(new Set(sizes).size).toBe(3)
  })

  it('leads from each number to its result, setup, recording and version of the arithmetic', async () => {
    const quadriceps = signed.report.criteria.find((c: LooseDocument) => c.key === 'quadriceps-deficit-60')
    expect(quadriceps.evidence).toHaveLength(2)
    for (const { resultId } of quadriceps.evidence) {
      const source = signed.basis.find((one: LooseDocument) => one.id === resultId)
      expect(source).toMatchObject({ kind: 'result', inForce: true, session: { id: visit.session.id, version: 1 } })
      const { body: result } = await world.clinician.get(source.links.result)
      expect(result).toMatchObject({ id: resultId, setup: source.setup, recordingSha256: source.recordingSha256 })
      expect(source.computeVersion).toBe(signed.report.computeVersion)
      const recording = await world.clinician.get(source.links.recording)
      expect(recording.headers['recording-sha256']).toBe(source.recordingSha256)
      expect((await world.clinician.get(source.links.session)).status).toBe(200)
    }
  })

  it('exports its basis, from which an independent computation arrives at the same numbers', async () => {
    const { body } = await world.clinician.get(`/v1/reports/${signed.id}/evaluation`)
    expect(body.sha256).toBe(createHash('sha256').update(canonicalJson(body.evaluation)).digest('hex'))
    expect(body.sha256).toBe(signed.report.evaluation.sha256)
    let compared = 0
    for (const criterion of signed.report.criteria) {
      const again = recompute(body.evaluation, criterion.key)
      if (again === null) continue
      compared += 1
      expect(Math.abs(again - criterion.observed.value), criterion.key).toBeLessThan(1e-9)
      const { comparator, threshold, verdict } = criterion
      const met = comparator === '<' ? again < threshold.value : again > threshold.value
      expect(verdict).toBe(met ? 'met' : 'not_met')
    }
    expect(compared).toBe(5)
  })

  it('is made once for one key, and by nobody but a licensed clinician', async () => {
    const url = `/v1/episodes/${world.subject.episodeId}/reports`
    const body = { criteriaSet: { key: 'kyritsis-2016' }, on: day(0), decision: 'other', note: 'Again' }
    const first = await world.clinician.post(url, body, { key: 'once' })
    const second = await world.clinician.post(url, body, { key: 'once' })
    expect(second.headers['idempotency-replayed']).toBe('true')
    expect(second.text).toBe(first.text)
    for (const role of ['owner', 'assistant', 'integration', 'auditor'] as const)
      expect((await service.api(world.clinic.tokens[role]).post(url, body)).status).toBe(403)
    const sub = `unlicensed-${uuidv7()}`
    const member = { clinicId: world.clinic.clinicId, issuer: ISSUER, sub, role: 'clinician', displayName: 'Member, no licence' } as const // prettier-ignore
    await withOwner(service.database.adminUrl, (client) => addMember(client, member))
    const unlicensed = service.api(await service.mint({ sub, clinic: world.clinic.clinicId }))
    expect((await unlicensed.post(url, body)).body).toMatchObject({ code: 'forbidden', detail: expect.stringContaining('licence') }) // prettier-ignore
    expect((await unlicensed.post(`/v1/reports/${signed.id}/withdrawal`, { reason: 'x' })).status).toBe(403)
  })

  it.each([
    ['a day that has not come', { on: day(2) }, 400, '#/on'],
    ['a set that nobody knows', { criteriaSet: { key: 'no-such-set' } }, 422, '#/criteriaSet'],
    ['no set where the episode names none', { criteriaSet: undefined }, 400, '#/criteriaSet'],
    ['a decision that is none', { decision: 'play' }, 400, '#/decision'],
    ['no note', { note: undefined }, 400, '#/note'],
  ])('is refused with %s', async (_what, over, status, pointer) => {
    const body = { criteriaSet: { key: 'kyritsis-2016' }, on: day(0), decision: 'other', note: 'x', ...over }
    const answer = await world.clinician.post(`/v1/episodes/${world.subject.episodeId}/reports`, body)
    expect([answer.status, answer.body.errors?.[0].pointer]).toEqual([status, pointer])
  })
})

describe('what becomes of a report', () => {
  it('a next version takes its place and says why; a withdrawal says why; neither changes what was signed', async () => {
    const world = await clinicWorld(service, 'R-2')
    await world.subject.push(world.visit(day(-3)))
    const first = await world.sign()
    const next = { criteriaSet: { key: 'kyritsis-2016' }, on: day(0), decision: 'progress_stage', note: 'Seen again', reason: 'Wrong category' } // prettier-ignore
    const second = await world.clinician.post(`/v1/reports/${first.id}/versions`, next)
    expect(second.status, second.text).toBe(201)
    expect(second.body).toMatchObject({ id: first.id, version: 2, state: 'signed', reason: 'Wrong category' })
    const { body: old } = await world.clinician.get(`/v1/reports/${first.id}?version=1`)
    expect(old.state).toBe('superseded')
    expect([old.report, old.jws]).toEqual([first.report, first.jws])

    const withdrawal = await world.clinician.post(`/v1/reports/${first.id}/withdrawal`, { reason: 'Other person' })
    expect(withdrawal.body).toMatchObject({ version: 2, state: 'withdrawn', withdrawal: { reason: 'Other person' } })
    expect(withdrawal.body.jws).toBe(second.body.jws)
    for (const [path, body] of [['withdrawal', { reason: 'x' }], ['versions', next]] as const)
      expect((await world.clinician.post(`/v1/reports/${first.id}/${path}`, body)).body.code).toBe('withdrawn')
    const { body: versions } = await world.clinician.get(`/v1/reports/${first.id}/versions`)
    expect(versions.items.map((v: LooseDocument) => [v.version, v.state])).toEqual([[1, 'superseded'], [2, 'withdrawn']]) // prettier-ignore
    const { body: list } = await world.clinician.get(`/v1/episodes/${world.subject.episodeId}/reports`)
    expect(list.items.map((v: LooseDocument) => v.version)).toEqual([2, 1])
  })

  it('an amended test marks it as affected, a newer one as followed, time as stale; what was signed stays', async () => {
    const world = await clinicWorld(service, 'R-3')
    const document = world.visit(day(-20))
    const { body: pushed, headers } = await world.subject.push(document)
    const report = await world.sign({ on: day(-20) })
    const shown = async (id: string) => (await world.clinician.get(`/v1/reports/${id}`)).body
    expect(report.currency).toBe('current')

    await world.subject.push(world.visit(day(-2)))
    expect((await shown(report.id)).currency).toBe('newer_test_exists')
    const newer = await world.sign()
    expect(newer.currency).toBe('current')

    document.bodyMass.value = 70
    const amended = await world.clinician.post(
      `/v1/sessions/${pushed.session.id}/amendments`,
      { reason: 'Body mass', session: document },
      { headers: { 'if-match': headers.etag ?? '' } },
    )
    expect(amended.status, amended.text).toBe(200)
    const affected = await shown(report.id)
    expect(affected.currency).toBe('affected_by_amendment')
    expect(affected.basis.filter((one: LooseDocument) => !one.inForce).length).toBeGreaterThan(0)
    expect([affected.report, affected.jws]).toEqual([report.report, report.jws])
    expect((await shown(newer.id)).currency).toBe('current')

    const withdrawn = await world.clinician.post(
      `/v1/sessions/${(await latestSession(world)).id}/entered-in-error`,
      { reason: 'Other person' },
      { headers: { 'if-match': '"1"' } },
    )
    expect(withdrawn.status, withdrawn.text).toBe(200)
    expect((await shown(newer.id)).currency).toBe('affected_by_amendment')
  })

  it('evidence too old on the day it is read makes it stale', async () => {
    const world = await clinicWorld(service, 'R-4')
    await world.subject.push(world.visit(day(-40)))
    const report = await world.sign({ on: day(-30) })
    expect(report).toMatchObject({ evaluatedOn: day(-30), expiresOn: day(-11), currency: 'stale' })
  })
})

async function latestSession(world: ClinicWorld): Promise<{ id: string }> {
  const { body } = await world.clinician.get(`/v1/sessions?subjectId=${world.subject.subjectId}`)
  return body.items.at(-1)
}

/** Written from the words of the publication, without a line of the service: 100 x involved / other, deficit, plain values. */
function recompute(evaluation: LooseDocument, key: string): number | null {
  const { evidence } = evaluation
  const newest = <T extends { performedAt: string }>(list: T[]): T | undefined =>
    [...list].sort((a, b) => Date.parse(b.performedAt) - Date.parse(a.performedAt))[0]
  const limbs = (test: string) => {
    const of = (side: string) =>
      newest<LooseDocument>(evidence.functional.filter((f: LooseDocument) => f.test === test && f.side === side))
    return (100 * of('right').outcome.value) / of('left').outcome.value
  }
  if (key === 'quadriceps-deficit-60') {
    const strength = newest<LooseDocument>(
      evidence.strength.filter(
        (s: LooseDocument) => s.movement === 'extension' && s.velocityDegS === 60 && s.measure === 'peakTorque',
      ),
    )
    return 100 - (100 * strength.right.outcome.value) / strength.left.outcome.value
  }
  if (key === 'single-hop') return limbs('single_hop_distance')
  if (key === 'triple-hop') return limbs('triple_hop_distance')
  if (key === 'crossover-hop') return limbs('triple_crossover_hop_distance')
  if (key === 'running-t-test')
    return newest<LooseDocument>(evidence.functional.filter((f: LooseDocument) => f.test === 'agility_t_run_time')).outcome.value // prettier-ignore
  return null
}

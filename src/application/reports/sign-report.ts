/**
 * A licensed clinician's decision beside an evaluation, frozen and signed. One transaction from reading the record to the last
 * signature, on purpose: the few milliseconds of pure arithmetic in it are less than reading it all again to see whether it
 * changed meanwhile. What an amendment changes under our hands shows as affected from the first reading on.
 */
import { randomBytes } from 'node:crypto'
import { v7 as uuidv7 } from 'uuid'
import type { CriteriaSet } from '../../compute/index.ts'
import { AppError, documentError } from '../../domain/errors.ts'
import type { LazyDocument } from '../../domain/parsed.ts'
import type { ReportDocument, ReportVersionDocument } from '../../domain/report-document.ts'
import { CONSENT_LEVELS } from '../../domain/code-lists.ts'
import { announce } from '../../store/announcement-store.ts'
import { lockEpisode } from '../../store/episode-store.ts'
import { insertReport, lockNewestReport, type ProjectionWrite } from '../../store/report-store.ts'
import { requireLicence } from '../../tenancy/policy.ts'
import type { ClinicTx } from '../../tenancy/with-clinic.ts'
import type { Context } from '../context.ts'
import { createOnce, type Created, type OnceKey } from '../create-once.ts'
import type { Trace } from '../perform.ts'
import type { ReadinessRecord } from '../readiness/collect-evidence.ts'
import { evaluateEpisode, loadRecord, setsFor, todayOf, type Readiness } from '../readiness/evaluate-episode.ts'
import { dayAfter } from '../shared/clinic-days.ts'
import { orNotFound } from '../shared/existing.ts'
import { etagOf } from '../shared/versions.ts'
import { shareReport } from '../sharing/share-report.ts'
import { freezeEvaluation } from './freeze-evaluation.ts'
import { clinicReport, projectReport, type ReportFacts } from './project-report.ts'
import type { ReportKeys } from './report-keys.ts'
import { showReport } from './show-report.ts'

interface Signing<T> {
  readonly keys: ReportKeys
  readonly once: OnceKey
  readonly document: LazyDocument<T>
}

/** Of a report of which nothing ages: as long as the published sets let a measured value count. Common practice, no source. */
const LONGEST_WITHOUT_AGEING_DAYS = 28

export async function signReport(
  ctx: Context,
  input: Signing<ReportDocument> & { readonly episodeId: string },
): Promise<Created> {
  return createOnce(ctx, 'reports.sign', input.once, async (tx, trace) => {
    orNotFound(await lockEpisode(tx, input.episodeId))
    const place = { episodeId: input.episodeId, reportId: uuidv7({ msecs: ctx.now.getTime() }), version: 1, reason: null }
    return sign(tx, ctx, input, place, trace)
  })
}

/** The next version; the one before stays readable in the clinic and leaves every team's view. */
export async function signReportVersion(
  ctx: Context,
  input: Signing<ReportVersionDocument> & { readonly reportId: string },
): Promise<Created> {
  return createOnce(ctx, 'reports.sign', input.once, async (tx, trace) => {
    const newest = orNotFound(await lockNewestReport(tx, input.reportId))
    await lockEpisode(tx, newest.episodeId)
    if (newest.state === 'withdrawn') throw new AppError('withdrawn')
    const { reason } = input.document().value
    const { episodeId } = newest
    return sign(tx, ctx, input, { episodeId, reportId: input.reportId, version: newest.version + 1, reason }, trace)
  })
}

interface Place {
  readonly episodeId: string
  readonly reportId: string
  readonly version: number
  readonly reason: string | null
}

async function sign(
  tx: ClinicTx,
  ctx: Context,
  input: Signing<ReportDocument>,
  place: Place,
  trace: Trace,
): Promise<{ status: 201; headers: Record<string, string>; body: unknown }> {
  const { value } = input.document()
  requireLicence(ctx.actor)
  refuseTomorrow(value.on, ctx)
  const record = await loadRecord(tx, place.episodeId, ctx.now)
  trace.subject(record.subject.id)
  trace.resource('episode', place.episodeId)
  const set = await setForDocument(tx, record, value)
  const evaluation = evaluateEpisode(record, set, value.on, ctx.now)
  const frozen = await freezeEvaluation(tx, ctx, record, evaluation)
  const facts = factsOf(ctx, place, frozen, evaluation.readiness, value)
  const signed = { id: place.reportId, version: place.version }
  await insertReport(
    tx,
    {
      ...signed,
      evaluationId: frozen.id,
      subjectId: record.subject.id,
      decision: value.decision,
      note: value.note,
      reason: place.reason,
      signerId: ctx.actor.principalId,
      signedAt: ctx.now,
      expiresOn: facts.expiresOn,
    },
    await projections(ctx, input.keys, facts),
  )
  await shareReport(tx, ctx, input.keys, { facts, subjectId: record.subject.id, episodeId: place.episodeId })
  trace.resource('report', `${signed.id}@${signed.version}`)
  trace.resource('criteria-set', `${set.key}@${set.version}`)
  trace.detail('decision', value.decision)
  await announce(tx, { kind: 'report_signed', id: signed.id, subjectId: record.subject.id })
  const headers = { Location: `/v1/reports/${signed.id}`, ETag: etagOf(signed.version) }
  return { status: 201, headers, body: await showReport(tx, ctx, signed.id, signed.version) }
}

function factsOf(
  ctx: Context,
  place: Place,
  evaluation: { id: string; sha256: string },
  readiness: Readiness,
  document: ReportDocument,
): ReportFacts {
  return {
    clinic: { id: ctx.actor.clinicId, name: ctx.actor.clinicName },
    reportId: place.reportId,
    version: place.version,
    evaluation,
    readiness,
    expiresOn: readiness.expiresOn ?? dayAfter(document.on, LONGEST_WITHOUT_AGEING_DAYS),
    signedAt: ctx.now.toISOString(),
    decision: { category: document.decision, decidedOn: todayOf(ctx), note: document.note },
    signedBy: { principalId: ctx.actor.principalId, name: ctx.actor.displayName, role: ctx.actor.role },
  }
}

/** The whole for the clinic, and one for each level, for a surgeon who is handed it on paper or by file. */
async function projections(ctx: Context, keys: ReportKeys, facts: ReportFacts): Promise<ProjectionWrite[]> {
  const levels = ['clinic', ...CONSENT_LEVELS.map(({ code }) => code)] as const
  return Promise.all(
    levels.map(async (level) => {
      const salt = new Uint8Array(randomBytes(16))
      const text = Buffer.from(salt).toString('base64url')
      const body = level === 'clinic' ? clinicReport(facts, text) : projectReport(facts, level, text, null)
      return { level, salt, body, ...(await keys.sign(ctx.actor.clinicId, body)) }
    }),
  )
}

async function setForDocument(tx: ClinicTx, record: ReadinessRecord, document: ReportDocument): Promise<CriteriaSet> {
  const { criteriaSet } = document
  const wanted = criteriaSet === undefined ? null : { key: criteriaSet.key, version: criteriaSet.version ?? null }
  const [set = 'not_known'] = await setsFor(tx, [{ record, wanted }])
  if (set === 'none_named') {
    throw documentError([
      { pointer: '#/criteriaSet', code: 'missing', message: 'The episode names no criteria set: say which one.' },
    ])
  }
  if (set === 'not_known') {
    throw new AppError('reference_not_found', {
      faults: [{ pointer: '#/criteriaSet', code: 'reference_not_found', message: 'No criteria set of that key and version is known here.' }], // prettier-ignore
    })
  }
  return set
}

function refuseTomorrow(on: string, ctx: Context): void {
  if (on <= todayOf(ctx)) return
  throw documentError([{ pointer: '#/on', code: 'out_of_range', message: 'This day has not come yet.' }])
}

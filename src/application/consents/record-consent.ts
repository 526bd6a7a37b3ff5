import { v7 as uuidv7 } from 'uuid'
import type { ConsentDocument } from '../../domain/consent-document.ts'
import { AppError, documentError, type FieldFault } from '../../domain/errors.ts'
import type { LazyDocument } from '../../domain/parsed.ts'
import { findInvitation, insertConsent, loadOpenConsents, type ConsentWrite } from '../../store/consent-store.ts'
import { findEpisodeId, loadEpisode } from '../../store/episode-store.ts'
import { loadLatestReport, loadProjection } from '../../store/report-store.ts'
import { loadSubject, lockSubjectVersion } from '../../store/subject-store.ts'
import type { ClinicTx } from '../../tenancy/with-clinic.ts'
import type { Context } from '../context.ts'
import { createOnce, type Created, type OnceKey } from '../create-once.ts'
import { factsOf, type ClinicReport } from '../reports/project-report.ts'
import type { ReportKeys } from '../reports/report-keys.ts'
import { ageOn, dayAfter, dayIn, startOfDay } from '../shared/clinic-days.ts'
import { orNotFound } from '../shared/existing.ts'
import { referenceNotFound } from '../shared/references.ts'
import { shareUnder } from '../sharing/share-report.ts'
import { representConsent } from './represent-consent.ts'

/** Common practice, no source: the age from which people agree for themselves differs between countries and purposes. */
const AGE_OF_CONSENT_YEARS = 18

interface Recording {
  readonly subjectId: string
  readonly keys: ReportKeys
  readonly once: OnceKey
  readonly document: LazyDocument<ConsentDocument>
}

/** From now on the team sees the report that speaks for the subject today, and each one signed while the consent holds. */
export async function recordConsent(ctx: Context, input: Recording): Promise<Created> {
  return createOnce(ctx, 'consents.create', input.once, async (tx, trace) => {
    orNotFound(await lockSubjectVersion(tx, input.subjectId))
    trace.subject(input.subjectId)
    const { value } = input.document()
    await refuseWithoutGuardian(tx, ctx, input.subjectId, value)
    if ((await findInvitation(tx, value.team.id)) === null) throw referenceNotFound('#/team')
    const write = await consentWrite(tx, ctx, input.subjectId, value)
    await refuseClash(tx, ctx, write)
    await insertConsent(tx, write)
    trace.resource('consent', write.id)
    trace.resource('team', write.teamId)
    trace.detail('level', write.level)
    const row = { ...write, revokedAt: null, revokedReason: null }
    const report = await loadLatestReport(tx, write)
    if (report !== null) {
      const projection = orNotFound(await loadProjection(tx, report, 'clinic'))
      await shareUnder(tx, ctx, input.keys, factsOf(projection.body as ClinicReport), row)
    }
    const headers = { Location: `/v1/subjects/${input.subjectId}/consents` }
    return { status: 201, headers, body: representConsent(row, ctx.now) }
  })
}

async function consentWrite(
  tx: ClinicTx,
  ctx: Context,
  subjectId: string,
  value: ConsentDocument,
): Promise<ConsentWrite> {
  const { timeZone } = ctx.actor
  if (value.until < dayIn(timeZone, ctx.now))
    throw documentError([{ pointer: '#/until', code: 'out_of_range', message: 'This day has passed.' }])
  return {
    id: uuidv7({ msecs: ctx.now.getTime() }),
    subjectId,
    teamId: value.team.id,
    teamReference: value.teamReference,
    displayName: value.displayName,
    level: value.level,
    purposes: value.purposes,
    fromOn: value.from,
    untilOn: value.until,
    validFrom: startOfDay(timeZone, value.from),
    validUntil: startOfDay(timeZone, dayAfter(value.until)),
    episodeId: await agreedEpisode(tx, ctx, subjectId, value),
    guardian: value.guardian ?? null,
    documentReference: value.documentReference ?? null,
    recordedBy: ctx.actor.principalId,
    recordedAt: ctx.now,
  }
}

async function agreedEpisode(
  tx: ClinicTx,
  ctx: Context,
  subjectId: string,
  { episode }: ConsentDocument,
): Promise<string | null> {
  if (episode === undefined) return null
  const found = await findEpisodeId(tx, episode)
  const row = found === null ? null : await loadEpisode(tx, found, ctx.now)
  if (row?.subjectId !== subjectId) throw referenceNotFound('#/episode')
  return row.id
}

/** A minor by the birth date on record on that day; where none is on record, nobody knows, so a guardian is named as well. */
async function refuseWithoutGuardian(
  tx: ClinicTx,
  ctx: Context,
  subjectId: string,
  { guardian }: ConsentDocument,
): Promise<void> {
  if (guardian !== undefined) return
  const subject = orNotFound(await loadSubject(tx, subjectId, ctx.now))
  const { birthDate } = subject.document as { birthDate?: string }
  if (birthDate !== undefined && ageOn(birthDate, dayIn(ctx.actor.timeZone, ctx.now)) >= AGE_OF_CONSENT_YEARS) return
  const fault: FieldFault =
    birthDate === undefined
      ? { pointer: '#/guardian', code: 'guardian_needed', message: 'No birth date is on record: record it, or name who agreed for a minor.' } // prettier-ignore
      : { pointer: '#/guardian', code: 'guardian_needed', message: 'A minor: name the guardian who agreed.' }
  throw documentError([fault])
}

/** One consent a person and team, and one person a reference: a team can't tell two rows of one reference apart. */
async function refuseClash(tx: ClinicTx, ctx: Context, write: ConsentWrite): Promise<void> {
  const open = await loadOpenConsents(tx, { teamId: write.teamId }, ctx.now)
  const own = open.find((consent) => consent.subjectId === write.subjectId)
  if (own !== undefined) {
    throw new AppError('consent_in_force', {
      detail: 'A consent to this team is on record for this subject. Revoke it first.',
      extra: { id: own.id },
    })
  }
  if (open.some((consent) => consent.teamReference === write.teamReference)) {
    throw new AppError('identifier_conflict', {
      faults: [{ pointer: '#/teamReference', code: 'identifier_conflict', message: 'Another consent to this team uses this reference.' }], // prettier-ignore
    })
  }
}

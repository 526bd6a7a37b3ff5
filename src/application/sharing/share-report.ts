/** What a report becomes for the teams that a subject agreed to: one signed projection per consent, which names who it is for. */
import { randomBytes, randomUUID } from 'node:crypto'
import { findInvitation, loadOpenConsents, type ConsentRow } from '../../store/consent-store.ts'
import { findShareId, layOut, takeBackEarlier } from '../../store/share-store.ts'
import type { ClinicTx } from '../../tenancy/with-clinic.ts'
import type { Context } from '../context.ts'
import { projectReport, type ReportFacts } from '../reports/project-report.ts'
import type { ReportKeys } from '../reports/report-keys.ts'
import { startOfDay } from '../shared/clinic-days.ts'

interface Shared {
  readonly facts: ReportFacts
  readonly subjectId: string
  readonly episodeId: string
}

export async function shareReport(tx: ClinicTx, ctx: Context, keys: ReportKeys, shared: Shared): Promise<void> {
  const { subjectId, episodeId, facts } = shared
  await takeBackEarlier(tx, episodeId, facts.reportId)
  for (const consent of await loadOpenConsents(tx, { subjectId }, ctx.now)) {
    if (consent.episodeId === null || consent.episodeId === episodeId) await shareUnder(tx, ctx, keys, facts, consent)
  }
}

export async function shareUnder(
  tx: ClinicTx,
  ctx: Context,
  keys: ReportKeys,
  facts: ReportFacts,
  consent: ConsentRow,
): Promise<void> {
  const invitation = await findInvitation(tx, consent.teamId)
  // Random, and of this consent alone: two teams can't find out by an id that they follow the same person.
  const id = (await findShareId(tx, consent.id, facts.reportId)) ?? randomUUID()
  const body = projectReport(facts, consent.level, randomBytes(16).toString('base64url'), {
    projectionId: id,
    team: { id: consent.teamId, name: invitation?.teamName ?? '' },
    teamReference: consent.teamReference,
    displayName: consent.displayName,
  })
  await layOut(tx, {
    id,
    teamId: consent.teamId,
    consentId: consent.id,
    reportId: facts.reportId,
    reportVersion: facts.version,
    appearsAt: consent.validFrom > ctx.now ? consent.validFrom : ctx.now,
    goneAt: consent.validUntil,
    level: consent.level,
    evaluatedOn: facts.readiness.on,
    expiresAt: startOfDay(ctx.actor.timeZone, facts.expiresOn),
    signedAt: new Date(facts.signedAt),
    body,
    ...(await keys.sign(ctx.actor.clinicId, body)),
  })
}

import type { RecordReference } from '../domain/reference.ts'
import type { ClinicTx } from '../tenancy/with-clinic.ts'
import type { Prisma, SessionVersion } from './generated/client.ts'
import { stillThere } from './still-there.ts'

export type SessionStatus = 'final' | 'amended' | 'entered_in_error'

/** One version of a session with everything that hangs on it. */
export interface SessionWrite {
  readonly sessionId: string
  readonly version: number
  readonly kind: 'pushed' | 'amended' | 'entered_in_error'
  readonly reason: string | null
  readonly subjectId: string
  readonly episodeId: string | null
  readonly dynamometerId: string | null
  readonly descriptionVersion: number | null
  readonly operatorId: string | null
  readonly testedAt: Date
  readonly startedAt: string
  readonly bodyMassKg: number | null
  readonly document: unknown
  readonly docHash: Uint8Array<ArrayBuffer>
  readonly visitFacts: unknown
  readonly recordedBy: string
  readonly recordedAt: Date
}

export interface SessionRow extends SessionWrite {
  readonly supersededAt: Date | null
  readonly externalId: { readonly system: string; readonly value: string } | null
}

export interface SetupWrite {
  readonly id: string
  readonly key: string
  readonly joint: string
  readonly side: string
  readonly document: unknown
  readonly findings: unknown
  readonly gravityMomentNm: number | null
}

export interface TestSetWrite {
  readonly id: string
  readonly setupId: string
  readonly key: string
  readonly ordinal: number
  readonly side: string
  readonly recordingSha: Uint8Array<ArrayBuffer> | null
  readonly reported: unknown
}

export interface FunctionalResultWrite {
  readonly id: string
  readonly subjectId: string
  readonly key: string
  readonly test: string
  readonly side: string | null
  readonly value: number | null
  readonly unit: string
  readonly formVersion: string | null
  readonly observation: string | null
  readonly document: unknown
  readonly performedAt: Date
}

export interface FunctionalResultRow extends FunctionalResultWrite {
  readonly sessionId: string
  /** As sent, offset included: of the result itself, else of its session. */
  readonly performedAtAsSent: string
  readonly recordedAt: Date
}

const STATUS_OF = { pushed: 'final', amended: 'amended', entered_in_error: 'entered_in_error' } as const

export async function findSessionId(tx: ClinicTx, reference: RecordReference): Promise<string | null> {
  if (reference.id === undefined && reference.externalId === undefined) return null
  const row = await tx.session.findFirst({
    where: {
      clinicId: tx.clinicId,
      ...(reference.externalId === undefined
        ? { id: reference.id ?? '' }
        : { extSystem: reference.externalId.system, extValue: reference.externalId.value }),
    },
    select: { id: true },
  })
  return row?.id ?? null
}

/** Two pushes of one external id wait for each other, so that the second one sees the first. */
export async function lockExternalId(tx: ClinicTx, externalId: { system: string; value: string }): Promise<void> {
  const name = JSON.stringify(['session', tx.clinicId, externalId.system, externalId.value])
  await tx.$queryRaw`select 1 as locked from pg_advisory_xact_lock(hashtextextended(${name}, 0))`
}

export interface SessionHead {
  readonly id: string
  readonly version: number
  readonly status: SessionStatus
  readonly subjectId: string
  readonly docHash: Uint8Array
}

export async function findByExternalId(
  tx: ClinicTx,
  externalId: { readonly system: string; readonly value: string },
): Promise<SessionHead | null> {
  const row = await tx.session.findFirst({
    where: { clinicId: tx.clinicId, extSystem: externalId.system, extValue: externalId.value },
    select: { id: true, version: true, status: true, subjectId: true, docHash: true },
  })
  return row === null ? null : { ...row, status: row.status as SessionStatus }
}

export async function lockSession(
  tx: ClinicTx,
  id: string,
): Promise<{ version: number; status: SessionStatus; subjectId: string; extSystem: string; extValue: string } | null> {
  const rows = await tx.$queryRaw<
    { version: number; status: SessionStatus; subjectId: string; extSystem: string; extValue: string }[]
  >`select version, status, subject_id as "subjectId", ext_system as "extSystem", ext_value as "extValue"
    from session where clinic_id = ${tx.clinicId}::uuid and id = ${id}::uuid for update`
  return rows[0] ?? null
}

export async function insertSession(
  tx: ClinicTx,
  write: SessionWrite,
  externalId: { readonly system: string; readonly value: string },
): Promise<void> {
  await tx.session.create({
    data: {
      clinicId: tx.clinicId,
      id: write.sessionId,
      version: write.version,
      status: STATUS_OF[write.kind],
      subjectId: write.subjectId,
      episodeId: write.episodeId,
      dynamometerId: write.dynamometerId,
      testedAt: write.testedAt,
      extSystem: externalId.system,
      extValue: externalId.value,
      docHash: write.docHash,
      recordedAt: write.recordedAt,
    },
  })
  await insertVersion(tx, write)
}

/** Everything in force under the session leaves force at once: nothing of the old version stays in a trend. */
export async function supersedeVersion(tx: ClinicTx, sessionId: string, at: Date): Promise<void> {
  const key = { clinicId: tx.clinicId, sessionId }
  await tx.sessionVersion.updateMany({ where: { ...key, supersededAt: null }, data: { supersededAt: at } })
  await tx.setResult.updateMany({ where: { ...key, isCurrent: true }, data: { isCurrent: false, supersededAt: at } })
  await tx.functionalResult.updateMany({ where: { ...key, supersededAt: null }, data: { supersededAt: at } })
  await tx.flag.updateMany({ where: { ...key, supersededAt: null }, data: { supersededAt: at } })
  await tx.analysis.updateMany({
    where: { clinicId: tx.clinicId, supersededAt: null, set: { sessionId } },
    data: { supersededAt: at },
  })
}

export async function reviseSession(tx: ClinicTx, write: SessionWrite): Promise<void> {
  await tx.session.updateMany({
    where: { clinicId: tx.clinicId, id: write.sessionId },
    data: {
      version: write.version,
      status: STATUS_OF[write.kind],
      subjectId: write.subjectId,
      episodeId: write.episodeId,
      dynamometerId: write.dynamometerId,
      testedAt: write.testedAt,
      docHash: write.docHash,
    },
  })
  await insertVersion(tx, write)
}

async function insertVersion(tx: ClinicTx, write: SessionWrite): Promise<void> {
  await tx.sessionVersion.create({
    data: {
      ...write,
      clinicId: tx.clinicId,
      document: write.document as Prisma.InputJsonValue,
      visitFacts: write.visitFacts as Prisma.InputJsonValue,
    },
  })
}

export async function insertSetups(
  tx: ClinicTx,
  place: { sessionId: string; sessionVersion: number },
  writes: readonly SetupWrite[],
): Promise<void> {
  await tx.setup.createMany({
    data: writes.map((write) => ({
      ...write,
      ...place,
      clinicId: tx.clinicId,
      document: write.document as Prisma.InputJsonValue,
      findings: write.findings as Prisma.InputJsonValue,
    })),
  })
}

export async function insertTestSets(
  tx: ClinicTx,
  place: { sessionId: string; sessionVersion: number },
  writes: readonly TestSetWrite[],
): Promise<void> {
  await tx.testSet.createMany({
    data: writes.map(({ reported, ...write }) => ({
      ...write,
      ...place,
      clinicId: tx.clinicId,
      ...(reported === null ? {} : { reported: reported as Prisma.InputJsonValue }),
    })),
  })
}

export async function insertFunctionalResults(
  tx: ClinicTx,
  place: { sessionId: string; sessionVersion: number; recordedAt: Date },
  writes: readonly FunctionalResultWrite[],
): Promise<void> {
  await tx.functionalResult.createMany({
    data: writes.map((write) => ({
      ...write,
      ...place,
      clinicId: tx.clinicId,
      document: write.document as Prisma.InputJsonValue,
    })),
  })
}

/** A version of a session; null asks for the one in force. */
export async function loadSession(tx: ClinicTx, id: string, version: number | null): Promise<SessionRow | null> {
  if (version === null) return (await loadSessions(tx, [id]))[0] ?? null
  return (await sessionVersions(tx, { sessionId: id, version }))[0] ?? null
}

/** Those in force. */
export async function loadSessions(tx: ClinicTx, ids: readonly string[]): Promise<SessionRow[]> {
  return sessionVersions(tx, { sessionId: { in: [...ids] }, supersededAt: null })
}

export async function loadSessionVersions(tx: ClinicTx, id: string): Promise<SessionRow[]> {
  return sessionVersions(tx, { sessionId: id })
}

async function sessionVersions(tx: ClinicTx, where: Prisma.SessionVersionWhereInput): Promise<SessionRow[]> {
  const rows = await tx.sessionVersion.findMany({
    where: { clinicId: tx.clinicId, ...where },
    include: { session: { select: { extSystem: true, extValue: true } } },
    orderBy: { version: 'asc' },
  })
  return stillThere(rows, 'session').map(toRow)
}

/** A version of a session, as what hangs on it names it. */
export interface VersionOfSession {
  readonly sessionId: string
  readonly sessionVersion: number
}

export async function loadSetups(
  tx: ClinicTx,
  of: readonly VersionOfSession[],
): Promise<(SetupWrite & VersionOfSession)[]> {
  const versions = of.map(({ sessionId, sessionVersion }) => ({ sessionId, sessionVersion }))
  return tx.setup.findMany({ where: { clinicId: tx.clinicId, OR: versions }, orderBy: { id: 'asc' } })
}

export async function loadTestSets(
  tx: ClinicTx,
  sessionId: string,
  sessionVersion: number,
): Promise<(TestSetWrite & { recordingSha: Uint8Array | null })[]> {
  // prettier-ignore
  return tx.testSet.findMany({ where: { clinicId: tx.clinicId, sessionId, sessionVersion }, orderBy: { ordinal: 'asc' } })
}

/** What tells a limb from the other: weight and arm of earlier setups in force, oldest first. */
export interface WeighedSetup {
  readonly side: string
  readonly gravityMomentNm: number | null
  readonly document: unknown
}

export async function loadWeighedSetups(tx: ClinicTx, subjectId: string, before: Date): Promise<WeighedSetup[]> {
  return tx.setup.findMany({
    where: {
      clinicId: tx.clinicId,
      sessionVersionRow: { subjectId, supersededAt: null, kind: { not: 'entered_in_error' }, testedAt: { lt: before } },
    },
    select: { side: true, gravityMomentNm: true, document: true },
    orderBy: [{ sessionVersionRow: { testedAt: 'asc' } }, { id: 'asc' }],
  })
}

export interface SessionHeadRow {
  readonly id: string
  readonly version: number
  readonly status: string
  readonly subjectId: string
  readonly episodeId: string | null
  readonly testedAt: Date
}

/** Sessions of the clinic by id, or of these the one with an id; withdrawn ones too, marked as such. */
export async function listSessionHeads(
  tx: ClinicTx,
  filter: { subjectId: string | null; id: string | null; after: string | null; take: number },
): Promise<SessionHeadRow[]> {
  // prettier-ignore
  return tx.session.findMany({
    where: {
      clinicId: tx.clinicId,
      ...(filter.subjectId === null ? {} : { subjectId: filter.subjectId }),
      ...(filter.after === null ? {} : { id: { gt: filter.after } }),
      ...(filter.id === null ? {} : { AND: { id: filter.id } }),
    },
    select: { id: true, version: true, status: true, subjectId: true, episodeId: true, testedAt: true },
    orderBy: { id: 'asc' },
    take: filter.take,
  })
}

/** Of each subject as many sessions by id as asked for; withdrawn ones too, marked as such. */
export async function listSessionHeadsOfSubjects(
  tx: ClinicTx,
  of: { subjectIds: readonly string[]; after: string | null; take: number },
): Promise<SessionHeadRow[]> {
  return tx.$queryRaw<SessionHeadRow[]>`
    select h.id, h.version, h.status, h.subject_id as "subjectId", h.episode_id as "episodeId", h.tested_at as "testedAt"
    from unnest(${of.subjectIds}::uuid[]) asked (subject_id)
    cross join lateral (
      select s.* from session s
      where s.clinic_id = ${tx.clinicId}::uuid and s.subject_id = asked.subject_id
        and (${of.after}::uuid is null or s.id > ${of.after}::uuid)
      order by s.id limit ${of.take}
    ) h
    order by h.id`
}

/** When the latest of these sessions was; null: there are none. */
export async function latestTestedAt(tx: ClinicTx, sessionIds: readonly string[]): Promise<Date | null> {
  const found = await tx.session.aggregate({
    where: { clinicId: tx.clinicId, id: { in: [...sessionIds] } },
    _max: { testedAt: true },
  })
  return found._max.testedAt
}

export async function loadFunctionalResults(
  tx: ClinicTx,
  subjectIds: readonly string[],
  knownAt: Date,
): Promise<FunctionalResultRow[]> {
  const rows = await tx.functionalResult.findMany({
    where: {
      clinicId: tx.clinicId,
      subjectId: { in: [...subjectIds] },
      recordedAt: { lte: knownAt },
      OR: [{ supersededAt: null }, { supersededAt: { gt: knownAt } }],
    },
    include: { sessionVersionRow: { select: { startedAt: true } } },
    orderBy: [{ performedAt: 'asc' }, { id: 'asc' }],
  })
  return stillThere(rows, 'sessionVersionRow').map(({ sessionVersionRow, ...row }) => ({
    ...row,
    performedAtAsSent: (row.document as { performedAt?: string }).performedAt ?? sessionVersionRow.startedAt,
  }))
}

function toRow(row: SessionVersion & { session: { extSystem: string | null; extValue: string | null } }): SessionRow {
  const { session, ...version } = row
  return {
    ...version,
    kind: row.kind as SessionRow['kind'],
    docHash: new Uint8Array(row.docHash),
    externalId:
      session.extSystem === null || session.extValue === null
        ? null
        : { system: session.extSystem, value: session.extValue },
  }
}

export interface RepeatSession {
  readonly sessionId: string
  /** The session that it names; null: it says only that it repeats one. */
  readonly firstSessionId: string | null
}

/** Repeat tests in force. */
export async function loadRepeatSessions(tx: ClinicTx): Promise<RepeatSession[]> {
  return tx.$queryRaw<RepeatSession[]>`
    select v.session_id as "sessionId", f.id as "firstSessionId"
    from session_version v
    left join session f on f.clinic_id = v.clinic_id
      and (f.id = (v.document #>> '{repeatOf,id}')::uuid
        or (f.ext_system, f.ext_value)
          = (v.document #>> '{repeatOf,externalId,system}', v.document #>> '{repeatOf,externalId,value}'))
    where v.clinic_id = ${tx.clinicId}::uuid and v.superseded_at is null
      and v.document ->> 'purpose' = 'repeat_test' and v.kind <> 'entered_in_error'`
}

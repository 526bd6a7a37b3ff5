/** Setups as they were recorded, across visits: the last ones of a limb, and the pinned reference. */
import type { ClinicTx } from '../tenancy/with-clinic.ts'
import { Prisma } from './generated/client.ts'

/** A setup with the visit it was recorded in. */
export interface RecordedSetup {
  readonly id: string
  readonly key: string
  readonly joint: string
  readonly side: 'left' | 'right'
  readonly document: unknown
  readonly findings: unknown
  readonly gravityMomentNm: number | null
  readonly sessionId: string
  readonly sessionVersion: number
  readonly subjectId: string
  readonly startedAt: string
  readonly testedAt: Date
  readonly dynamometerId: string | null
  readonly descriptionVersion: number | null
  /** Of the session today, which may have been amended or withdrawn since. */
  readonly sessionStatus: 'final' | 'amended' | 'entered_in_error'
  readonly newestSessionVersion: number
}

export interface ReferenceSetupWrite {
  readonly id: string
  readonly subjectId: string
  readonly joint: string
  readonly side: string
  readonly dynamometerId: string
  readonly version: number
  readonly setupId: string
  readonly reason: string
  readonly recordedBy: string
  readonly recordedAt: Date
}

export interface ReferenceSetupRow extends ReferenceSetupWrite {
  readonly side: 'left' | 'right'
  readonly supersededAt: Date | null
  readonly setup: RecordedSetup
}

export interface LimbOnMachine {
  readonly subjectId: string
  readonly joint: string
  readonly side: string
  readonly dynamometerId: string
}

async function recordedSetups(tx: ClinicTx, condition: Prisma.Sql, take: number): Promise<RecordedSetup[]> {
  return tx.$queryRaw<RecordedSetup[]>`
    select p.id, p.key, p.joint, p.side, p.document, p.findings, p.gravity_moment_nm as "gravityMomentNm",
           p.session_id as "sessionId", p.session_version as "sessionVersion", v.subject_id as "subjectId",
           v.started_at as "startedAt", v.tested_at as "testedAt", v.dynamometer_id as "dynamometerId",
           v.description_version as "descriptionVersion", s.status as "sessionStatus", s.version as "newestSessionVersion"
    from setup p
    join session_version v on v.clinic_id = p.clinic_id and v.session_id = p.session_id and v.version = p.session_version
    join session s on s.clinic_id = p.clinic_id and s.id = p.session_id
    where p.clinic_id = ${tx.clinicId}::uuid and ${condition}
    order by v.tested_at desc, p.id desc limit ${take}`
}

/** Setups of a joint in force, newest test first; both sides, every machine. */
export async function loadSetupsOfJoint(
  tx: ClinicTx,
  of: { readonly subjectId: string; readonly joint: string; readonly knownAt: Date; readonly take: number },
): Promise<RecordedSetup[]> {
  return recordedSetups(
    tx,
    Prisma.sql`v.subject_id = ${of.subjectId}::uuid and p.joint = ${of.joint} and v.kind <> 'entered_in_error'
      and v.recorded_at <= ${of.knownAt} and (v.superseded_at is null or v.superseded_at > ${of.knownAt})`,
    of.take,
  )
}

export async function loadSetupOfSession(
  tx: ClinicTx,
  of: { readonly sessionId: string; readonly sessionVersion: number; readonly key: string },
): Promise<RecordedSetup | null> {
  const rows = await recordedSetups(
    tx,
    Prisma.sql`p.session_id = ${of.sessionId}::uuid and p.session_version = ${of.sessionVersion} and p.key = ${of.key}`,
    1,
  )
  return rows[0] ?? null
}

/** Pinned setups of a subject, newest first. `knownAt`: those in force then; null: every version. */
export async function loadReferenceSetups(
  tx: ClinicTx,
  filter: { readonly subjectId: string; readonly knownAt: Date | null } & Partial<Omit<LimbOnMachine, 'subjectId'>>,
): Promise<ReferenceSetupRow[]> {
  const { subjectId, knownAt, ...limb } = filter
  const rows = await tx.referenceSetup.findMany({
    where: {
      clinicId: tx.clinicId,
      subjectId,
      ...limb,
      ...(knownAt === null
        ? {}
        : { recordedAt: { lte: knownAt }, OR: [{ supersededAt: null }, { supersededAt: { gt: knownAt } }] }),
    },
    orderBy: [{ recordedAt: 'desc' }, { id: 'desc' }],
    take: 500,
  })
  if (rows.length === 0) return []
  const ids = rows.map((row) => row.setupId)
  const setups = await recordedSetups(tx, Prisma.sql`p.id = any(${ids}::uuid[])`, ids.length)
  return rows.flatMap((row) => {
    const setup = setups.find(({ id }) => id === row.setupId)
    return setup === undefined ? [] : [{ ...row, side: row.side as 'left' | 'right', setup }]
  })
}

/** Two pins of one limb wait for each other. Answers the version in force, 0 where there is none. */
export async function lockReferenceSetup(tx: ClinicTx, limb: LimbOnMachine): Promise<number> {
  const name = JSON.stringify([
    'reference-setup',
    tx.clinicId,
    limb.subjectId,
    limb.joint,
    limb.side,
    limb.dynamometerId,
  ])
  await tx.$queryRaw`select 1 as locked from pg_advisory_xact_lock(hashtextextended(${name}, 0))`
  const row = await tx.referenceSetup.aggregate({ where: { clinicId: tx.clinicId, ...limb }, _max: { version: true } })
  return row._max.version ?? 0
}

export async function pinReferenceSetup(tx: ClinicTx, write: ReferenceSetupWrite): Promise<void> {
  const { subjectId, joint, side, dynamometerId } = write
  await tx.referenceSetup.updateMany({
    where: { clinicId: tx.clinicId, subjectId, joint, side, dynamometerId, supersededAt: null },
    data: { supersededAt: write.recordedAt },
  })
  await tx.referenceSetup.create({ data: { ...write, clinicId: tx.clinicId } })
}

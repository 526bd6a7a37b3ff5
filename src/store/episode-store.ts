import type { RecordReference } from '../domain/reference.ts'
import type { ClinicTx } from '../tenancy/with-clinic.ts'
import { asDate, dateOnly, inForceAt } from './dates.ts'
import type { EpisodeVersion, Prisma } from './generated/client.ts'
import { stillThere } from './still-there.ts'

export interface EpisodeWrite {
  readonly episodeId: string
  readonly version: number
  readonly subjectId: string
  readonly externalId: { readonly system: string; readonly value: string } | undefined
  readonly docHash: Uint8Array<ArrayBuffer>
  readonly document: unknown
  readonly joint: string
  readonly involvedSide: string
  readonly status: string
  readonly injuredOn: string | undefined
  readonly surgeryOn: string | undefined
  readonly criteriaSet: { readonly key: string; readonly version: number } | undefined
  readonly baselineSessionId: string | null
  readonly recordedBy: string
  readonly recordedAt: Date
}

export interface EpisodeRow {
  readonly id: string
  readonly version: number
  readonly subjectId: string
  readonly joint: string
  readonly involvedSide: 'left' | 'right' | 'bilateral' | 'none'
  readonly status: string
  readonly injuredOn: string | null
  readonly surgeryOn: string | null
  readonly criteriaSet: { readonly key: string; readonly version: number } | null
  readonly baselineSessionId: string | null
  readonly document: unknown
  readonly recordedAt: Date
  readonly recordedBy: string
  readonly supersededAt: Date | null
}

export async function findEpisodeId(tx: ClinicTx, reference: RecordReference): Promise<string | null> {
  const row = await tx.episode.findFirst({
    where: { clinicId: tx.clinicId, ...byReference(reference) },
    select: { id: true },
  })
  return row?.id ?? null
}

function byReference(reference: RecordReference): { id: string } | { extSystem: string; extValue: string } {
  if (reference.id !== undefined) return { id: reference.id }
  if (reference.externalId === undefined) throw new RangeError('A reference needs an id or an externalId.')
  return { extSystem: reference.externalId.system, extValue: reference.externalId.value }
}

/** The episode's external id taken already, with the hash of what was sent under it. */
export async function findEpisodeByExternalId(
  tx: ClinicTx,
  externalId: { readonly system: string; readonly value: string },
): Promise<{ id: string; docHash: Uint8Array } | null> {
  return tx.episode.findFirst({
    where: { clinicId: tx.clinicId, extSystem: externalId.system, extValue: externalId.value },
    select: { id: true, docHash: true },
  })
}

export async function loadEpisode(tx: ClinicTx, id: string, knownAt: Date): Promise<EpisodeRow | null> {
  return (await loadEpisodes(tx, [id], knownAt))[0] ?? null
}

export async function loadEpisodes(tx: ClinicTx, ids: readonly string[], knownAt: Date): Promise<EpisodeRow[]> {
  const rows = await tx.episodeVersion.findMany({
    where: { clinicId: tx.clinicId, episodeId: { in: [...ids] }, ...inForceAt(knownAt) },
    include: { episode: { select: { subjectId: true } } },
  })
  return stillThere(rows, 'episode').map(toRow)
}

export async function loadEpisodeVersions(tx: ClinicTx, id: string): Promise<EpisodeRow[]> {
  const rows = await tx.episodeVersion.findMany({
    where: { clinicId: tx.clinicId, episodeId: id },
    include: { episode: { select: { subjectId: true } } },
    orderBy: { version: 'asc' },
  })
  return stillThere(rows, 'episode').map(toRow)
}

/** Every episode of a subject in force at an instant, oldest first. */
export async function loadEpisodesOfSubject(tx: ClinicTx, subjectId: string, knownAt: Date): Promise<EpisodeRow[]> {
  return loadEpisodesOfSubjects(tx, [subjectId], knownAt)
}

export async function loadEpisodesOfSubjects(
  tx: ClinicTx,
  subjectIds: readonly string[],
  knownAt: Date,
): Promise<EpisodeRow[]> {
  const rows = await tx.episodeVersion.findMany({
    where: { clinicId: tx.clinicId, episode: { subjectId: { in: [...subjectIds] } }, ...inForceAt(knownAt) },
    include: { episode: { select: { subjectId: true } } },
    orderBy: { episodeId: 'asc' },
  })
  return stillThere(rows, 'episode').map(toRow)
}

export async function lockEpisode(
  tx: ClinicTx,
  id: string,
): Promise<{ version: number; subjectId: string; extSystem: string | null; extValue: string | null } | null> {
  const rows = await tx.$queryRaw<
    { version: number; subjectId: string; extSystem: string | null; extValue: string | null }[]
  >`select version, subject_id as "subjectId", ext_system as "extSystem", ext_value as "extValue"
    from episode where clinic_id = ${tx.clinicId}::uuid and id = ${id}::uuid for update`
  return rows[0] ?? null
}

export async function insertEpisode(tx: ClinicTx, write: EpisodeWrite): Promise<void> {
  await tx.episode.create({
    data: {
      clinicId: tx.clinicId,
      id: write.episodeId,
      subjectId: write.subjectId,
      version: write.version,
      extSystem: write.externalId?.system ?? null,
      extValue: write.externalId?.value ?? null,
      docHash: write.docHash,
      createdAt: write.recordedAt,
    },
  })
  await writeVersion(tx, write)
}

export async function reviseEpisode(tx: ClinicTx, write: EpisodeWrite): Promise<void> {
  const { clinicId } = tx
  await tx.episodeVersion.updateMany({
    where: { clinicId, episodeId: write.episodeId, supersededAt: null },
    data: { supersededAt: write.recordedAt },
  })
  await tx.episode.updateMany({
    where: { clinicId, id: write.episodeId },
    data: { version: write.version, docHash: write.docHash },
  })
  await writeVersion(tx, write)
}

async function writeVersion(tx: ClinicTx, write: EpisodeWrite): Promise<void> {
  await tx.episodeVersion.create({
    data: {
      clinicId: tx.clinicId,
      episodeId: write.episodeId,
      version: write.version,
      joint: write.joint,
      involvedSide: write.involvedSide,
      status: write.status,
      injuryOn: write.injuredOn === undefined ? null : asDate(write.injuredOn),
      surgeryOn: write.surgeryOn === undefined ? null : asDate(write.surgeryOn),
      criteriaKey: write.criteriaSet?.key ?? null,
      criteriaVersion: write.criteriaSet?.version ?? null,
      baselineSessionId: write.baselineSessionId,
      document: write.document as Prisma.InputJsonValue,
      recordedBy: write.recordedBy,
      recordedAt: write.recordedAt,
    },
  })
}

function toRow(row: EpisodeVersion & { episode: { subjectId: string } }): EpisodeRow {
  return {
    id: row.episodeId,
    version: row.version,
    subjectId: row.episode.subjectId,
    joint: row.joint,
    involvedSide: row.involvedSide as EpisodeRow['involvedSide'],
    status: row.status,
    injuredOn: row.injuryOn === null ? null : dateOnly(row.injuryOn),
    surgeryOn: row.surgeryOn === null ? null : dateOnly(row.surgeryOn),
    criteriaSet:
      row.criteriaKey === null || row.criteriaVersion === null
        ? null
        : { key: row.criteriaKey, version: row.criteriaVersion },
    baselineSessionId: row.baselineSessionId,
    document: row.document,
    recordedAt: row.recordedAt,
    recordedBy: row.recordedBy,
    supersededAt: row.supersededAt,
  }
}

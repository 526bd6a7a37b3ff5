import type { ClinicTx } from '../tenancy/with-clinic.ts'
import type { Flag, Prisma } from './generated/client.ts'

export interface FlagWrite {
  readonly id: string
  readonly subjectId: string
  readonly sessionId: string
  readonly resultId: string | null
  readonly code: string
  readonly level: 'note' | 'caution' | 'hold'
  readonly pointer: string
  readonly message: string
  readonly effect: string
  readonly evidence: unknown
}

export interface FlagRow extends FlagWrite {
  readonly status: 'open' | 'confirmed' | 'dismissed'
  readonly recordedAt: Date
  readonly supersededAt: Date | null
  readonly resolvedBy: string | null
  readonly resolvedAt: Date | null
  readonly resolvedReason: string | null
}

export async function insertFlags(tx: ClinicTx, writes: readonly FlagWrite[], recordedAt: Date): Promise<void> {
  if (writes.length === 0) return
  await tx.flag.createMany({
    data: writes.map((write) => ({
      ...write,
      clinicId: tx.clinicId,
      status: 'open',
      recordedAt,
      evidence: write.evidence as Prisma.InputJsonValue,
    })),
  })
}

type OneOrSeveral = string | { readonly in: string[] }

/** Flags in force at an instant, on a subject or a session, or on several of them. */
export async function loadFlags(
  tx: ClinicTx,
  of: { readonly subjectId: OneOrSeveral } | { readonly sessionId: OneOrSeveral },
  knownAt: Date,
): Promise<FlagRow[]> {
  const rows = await tx.flag.findMany({
    where: {
      clinicId: tx.clinicId,
      ...of,
      recordedAt: { lte: knownAt },
      OR: [{ supersededAt: null }, { supersededAt: { gt: knownAt } }],
    },
    orderBy: { id: 'asc' },
  })
  return rows.map(toRow)
}

/** The work list: what is open, oldest first. */
export async function listOpenFlags(
  tx: ClinicTx,
  filter: { level: string | null; after: string | null; take: number },
): Promise<FlagRow[]> {
  const rows = await tx.flag.findMany({
    where: {
      clinicId: tx.clinicId,
      status: 'open',
      supersededAt: null,
      ...(filter.level === null ? {} : { level: filter.level }),
      ...(filter.after === null ? {} : { id: { gt: filter.after } }),
    },
    orderBy: { id: 'asc' },
    take: filter.take,
  })
  return rows.map(toRow)
}

export async function lockFlag(tx: ClinicTx, id: string): Promise<FlagRow | null> {
  const locked = await tx.$queryRaw<unknown[]>`
    select 1 as found from flag where clinic_id = ${tx.clinicId}::uuid and id = ${id}::uuid for update`
  if (locked.length === 0) return null
  const row = await tx.flag.findUnique({ where: { clinicId_id: { clinicId: tx.clinicId, id } } })
  return row === null ? null : toRow(row)
}

export async function resolveFlag(
  tx: ClinicTx,
  id: string,
  resolution: { status: 'confirmed' | 'dismissed'; resolvedBy: string; resolvedAt: Date; resolvedReason: string },
): Promise<void> {
  await tx.flag.updateMany({ where: { clinicId: tx.clinicId, id }, data: resolution })
}

/** Flags of results that new ones take the place of: `carry` picks what goes over to the new result, with its resolution. */
export async function moveFlags(
  tx: ClinicTx,
  moves: readonly { readonly from: string; readonly to: string }[],
  carry: (flag: FlagRow) => boolean,
  newId: () => string,
  at: Date,
): Promise<FlagRow[]> {
  const where = { clinicId: tx.clinicId, resultId: { in: moves.map(({ from }) => from) }, supersededAt: null }
  const rows = (await tx.flag.findMany({ where, orderBy: { id: 'asc' } })).map(toRow)
  await tx.flag.updateMany({ where, data: { supersededAt: at } })
  const carried = rows.filter(carry).map((row) => ({
    ...row,
    id: newId(),
    resultId: moves.find(({ from }) => from === row.resultId)?.to ?? null,
    recordedAt: at,
  }))
  await tx.flag.createMany({
    data: carried.map((row) => ({ ...row, clinicId: tx.clinicId, evidence: row.evidence as Prisma.InputJsonValue })),
  })
  return carried
}

/** A hold keeps a value out of progress until a clinician dismisses it; a confirmed one keeps it out for good. */
export function isHolding(flag: FlagRow, knownAt: Date): boolean {
  if (flag.level !== 'hold') return false
  const dismissed = flag.status === 'dismissed' && flag.resolvedAt !== null && flag.resolvedAt <= knownAt
  return !dismissed
}

function toRow(row: Flag): FlagRow {
  return { ...row, level: row.level as FlagRow['level'], status: row.status as FlagRow['status'] }
}

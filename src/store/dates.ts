/** Postgres dates have no time zone; Prisma shows them as midnight UTC. */
export const dateOnly = (date: Date): string => date.toISOString().slice(0, 10)
export const asDate = (text: string): Date => new Date(`${text}T00:00:00Z`)

/** Rows that were in force, as the service knew them at that instant. */
export const inForceAt = (knownAt: Date) => ({
  recordedAt: { lte: knownAt },
  OR: [{ supersededAt: null }, { supersededAt: { gt: knownAt } }],
})

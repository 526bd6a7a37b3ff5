/** What is announced in one clinic, one after the other, for as long as somebody asks for the next. */
import { AppError } from '../../domain/errors.ts'
import type { Announcement, Announcements } from '../../tenancy/announcements.ts'

/** A client that reads more slowly than that is told so, rather than told of some and not of others. */
const MOST_WAITING = 1_000

interface Wanted {
  readonly clinicId: string
  readonly kind: Announcement['kind']
  readonly subjectId: string | undefined
}

export async function announced(
  announcements: Announcements,
  { clinicId, kind, subjectId }: Wanted,
): Promise<AsyncIterableIterator<Announcement>> {
  const waiting: Announcement[] = []
  let fault: AppError | null = null
  let over = false
  /** Wakes whoever waits for the next. */
  let wake = (): void => undefined
  const end = (why: AppError | null) => {
    over = true
    fault ??= why
    waiting.length = 0
    stop()
    wake()
  }
  let stop = (): void => undefined
  stop = await announcements.follow({
    clinicId,
    hear: (announcement) => {
      if (over || announcement.kind !== kind || (subjectId ?? announcement.subjectId) !== announcement.subjectId) return
      if (waiting.push(announcement) > MOST_WAITING) end(new AppError('busy', { detail: SLOW }))
      wake()
    },
    lost: end,
  })
  const told: AsyncIterableIterator<Announcement> = {
    next: async () => {
      while (waiting.length === 0 && !over) await new Promise<void>((resolve) => (wake = resolve))
      const value = waiting.shift()
      if (value !== undefined) return { done: false, value }
      if (fault === null) return { done: true, value: undefined }
      throw fault
    },
    return: async () => {
      end(null)
      return { done: true, value: undefined }
    },
    [Symbol.asyncIterator]: () => told,
  }
  return told
}

const SLOW = 'More was announced than this connection took: read what you missed and subscribe again.'

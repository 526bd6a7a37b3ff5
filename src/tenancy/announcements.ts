/**
 * What was stored, heard by every process: one connection that listens, opened with the first who follows. An announcement
 * holds ids and nothing else; what they name is read as everything is, by whoever may read it. A connection that broke is
 * not repaired behind anyone's back: what was announced meanwhile is lost, so everyone who followed is told, and follows again.
 */
import { randomUUID } from 'node:crypto'
import pg from 'pg'
import { AppError } from '../domain/errors.ts'

export const ANNOUNCEMENT_CHANNEL = 'limb_ledger'

export interface Announcement {
  readonly clinicId: string
  readonly kind: 'session_stored' | 'report_signed'
  readonly id: string
  readonly subjectId: string
}

export interface Follower {
  readonly clinicId: string
  readonly hear: (announcement: Announcement) => void
  /** Once, and nothing afterwards: from here on announcements may have been missed. */
  readonly lost: (error: AppError) => void
}

export interface Announcements {
  /** Resolves when nothing that is announced from here on is missed; to a function that ends it. */
  readonly follow: (follower: Follower) => Promise<() => void>
  readonly close: () => Promise<void>
}

export interface AnnouncementOptions {
  readonly onError?: (error: Error) => void
  /** Between two proofs that what is announced arrives. */
  readonly proveEveryMs?: number
}

const CONNECT_MS = 5_000
const PROOF_MS = 5_000
/** After a connection that could not be made; twice as long each time. */
const FIRST_PAUSE_MS = 500
const LONGEST_PAUSE_MS = 30_000

interface Line {
  readonly client: pg.Client
  readonly followers: Set<Follower>
}

/** The address is a direct one: a pooler that hands connections on between transactions loses what is announced. */
export function openAnnouncements(url: string, options: AnnouncementOptions = {}): Announcements {
  let line: Promise<Line> | null = null
  let closed = false
  let refuseUntil = 0
  let pauseMs = FIRST_PAUSE_MS

  const unavailable = (cause?: unknown) => new AppError('database_unavailable', { retryAfterSeconds: 2, cause })

  /** Everyone who asks while it is being opened waits for the same one. */
  const current = (): Promise<Line> => {
    if (line !== null) return line
    if (closed || Date.now() < refuseUntil) return Promise.reject(unavailable())
    const opening = openLine(url, {
      proveEveryMs: options.proveEveryMs ?? 15_000,
      ended: (error) => {
        if (line === opening) line = null
        if (!closed) options.onError?.(error)
      },
    })
    line = opening
    opening.then(
      () => void (pauseMs = FIRST_PAUSE_MS),
      (error: unknown) => {
        if (line === opening) line = null
        refuseUntil = Date.now() + pauseMs
        pauseMs = Math.min(pauseMs * 2, LONGEST_PAUSE_MS)
        if (!closed) options.onError?.(error as Error)
      },
    )
    return opening
  }

  return {
    follow: async (follower) => {
      const { followers } = await current().catch((error: unknown) => {
        throw error instanceof AppError ? error : unavailable(error)
      })
      followers.add(follower)
      return () => void followers.delete(follower)
    },
    close: async () => {
      closed = true
      const open = await line?.catch(() => null)
      await open?.client.end()
    },
  }
}

interface LineOptions {
  readonly proveEveryMs: number
  readonly ended: (error: Error) => void
}

async function openLine(url: string, { proveEveryMs, ended }: LineOptions): Promise<Line> {
  const client = new pg.Client({
    connectionString: url,
    connectionTimeoutMillis: CONNECT_MS,
    query_timeout: PROOF_MS,
    application_name: 'limb-ledger-announcements',
  })
  const followers = new Set<Follower>()
  const proofs = new Map<string, () => void>()
  let proving: NodeJS.Timeout | null = null
  let over = false

  const end = (error: Error) => {
    if (over) return
    over = true
    clearInterval(proving ?? undefined)
    client.end().catch(() => undefined)
    for (const { lost } of followers) lost(missed(error))
    followers.clear()
    ended(error)
  }
  // A connection whose other end is gone without a word stays open for hours: it has to be heard of.
  const prove = async () => {
    const proof = randomUUID()
    let late: NodeJS.Timeout | undefined
    const heard = new Promise<void>((resolve, reject) => {
      proofs.set(proof, resolve)
      late = setTimeout(() => reject(new Error('what is announced does not arrive')), PROOF_MS)
    })
    try {
      await Promise.all([heard, client.query(`select pg_notify($1, $2)`, [ANNOUNCEMENT_CHANNEL, proof])])
    } finally {
      clearTimeout(late)
      proofs.delete(proof)
    }
  }

  client.on('error', end)
  client.on('end', () => end(new Error('the connection that hears announcements has ended')))
  client.on('notification', ({ payload = '' }) => {
    const proven = proofs.get(payload)
    if (proven !== undefined) return proven()
    const announcement = announcementOf(payload)
    if (announcement === null) return
    for (const { clinicId, hear } of followers) if (clinicId === announcement.clinicId) hear(announcement)
  })
  try {
    await client.connect()
    // It lies idle between announcements, for as long as there are none.
    await client.query('set idle_session_timeout = 0')
    await client.query(`listen ${ANNOUNCEMENT_CHANNEL}`)
    await prove()
  } catch (error) {
    over = true
    client.end().catch(() => undefined)
    throw error
  }
  proving = setInterval(() => void prove().catch(end), proveEveryMs).unref()
  return { client, followers }
}

const missed = (cause: Error) =>
  new AppError('database_unavailable', {
    detail: 'What was stored in this moment may not have been heard of: read what you missed and subscribe again.',
    retryAfterSeconds: 1,
    cause,
  })

/** null: the proof of another process, or nothing of ours. */
function announcementOf(payload: string): Announcement | null {
  if (!payload.startsWith('{')) return null
  try {
    return JSON.parse(payload) as Announcement
  } catch {
    return null
  }
}

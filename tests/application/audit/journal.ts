/** A driver that keeps its own journal: every request it sent, what came back, and what the log must therefore say. */
import { v7 as uuidv7 } from 'uuid'
import type { Answer, Api } from '../../harness/clinic.ts'

export interface JournalEntry {
  readonly requestId: string
  readonly clinicId: string
  readonly request: string
  readonly status: number
}

/** Reads that show nobody's data are not in the log: the bearer's own token, and lists of words. */
const UNLOGGED = /^GET \/v1\/(me|code-lists)(\/|$)/

export class Journal {
  readonly entries: JournalEntry[] = []

  /** Requests that must be in the log of a clinic, each exactly once. What got a 5xx showed nothing and may be there. */
  expected(clinicId: string): JournalEntry[] {
    return this.entries.filter(
      (entry) =>
        entry.clinicId === clinicId && entry.status < 500 && (entry.status !== 200 || !UNLOGGED.test(entry.request)),
    )
  }

  unanswered(clinicId: string): JournalEntry[] {
    return this.entries.filter((entry) => entry.clinicId === clinicId && entry.status >= 500)
  }

  /** The same client, with everything it does written down. */
  follow(api: Api, clinicId: string): Api {
    const note = <T>(method: string, url: string, answer: Answer<T>): Answer<T> => {
      const requestId = answer.headers['x-request-id'] ?? ''
      this.entries.push({ requestId, clinicId, request: `${method} ${url}`, status: answer.status })
      return answer
    }
    return {
      get: async (url, options) => note('GET', url, await api.get(url, options)),
      post: async (url, body, options) => note('POST', url, await api.post(url, body, options)),
      put: async (url, body, ifMatch, options) => note('PUT', url, await api.put(url, body, ifMatch, options)),
    }
  }
}

/** Deterministic numbers in [0, 1): the same mix at every run. */
export function mulberry32(seed: number): () => number {
  let state = seed
  return () => {
    state = (state + 0x6d2b79f5) | 0
    let t = Math.imul(state ^ (state >>> 15), 1 | state)
    t = (t + Math.imul(t ^ (t >>> 7), 61 | t)) ^ t
    return ((t ^ (t >>> 14)) >>> 0) / 4_294_967_296
  }
}

export const nobody = (): string => uuidv7()

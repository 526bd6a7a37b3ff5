/** A driver that keeps its own journal: every request it sent, what came back, and what the log must therefore say. */
import { v7 as uuidv7 } from 'uuid'
import type { Answer, Api, TestService } from '../../harness/clinic.ts'
import { asker, type GraphqlAnswer } from '../../faces/graphql/ask.ts'

export interface JournalEntry {
  readonly requestId: string
  readonly clinicId: string
  readonly request: string
  readonly status: number
  /** What must be in the log: 'action outcome' for each use case of an operation; null: one event of the action of its address. */
  readonly events: readonly string[] | null
}

/** Reads that show nobody's data are not in the log: the bearer's own token, lists of words, a ready-made document. */
const UNLOGGED = /^GET \/v1\/(me|code-lists|dynamometers\/starter)(\/|$)/

export const outcomeOf = ({ status }: JournalEntry): string => (status < 400 ? 'done' : 'refused')

export class Journal {
  readonly entries: JournalEntry[] = []

  /** Requests whose events are known. What got a 5xx showed nothing and may be in the log. */
  answered(clinicId: string): JournalEntry[] {
    return this.entries.filter((entry) => entry.clinicId === clinicId && entry.status < 500)
  }

  unanswered(clinicId: string): JournalEntry[] {
    return this.entries.filter((entry) => entry.clinicId === clinicId && entry.status >= 500)
  }

  #note(clinicId: string, request: string, { headers, status }: Answer, events: readonly string[] | null): void {
    this.entries.push({ requestId: headers['x-request-id'] ?? '', clinicId, request, status, events })
  }

  /** The same client, with everything it does written down. */
  follow(api: Api, clinicId: string): Api {
    const note = <T>(method: string, url: string, answer: Answer<T>): Answer<T> => {
      const request = `${method} ${url}`
      this.#note(clinicId, request, answer, answer.status === 200 && UNLOGGED.test(request) ? [] : null)
      return answer
    }
    return {
      get: async (url, options) => note('GET', url, await api.get(url, options)),
      post: async (url, body, options) => note('POST', url, await api.post(url, body, options)),
      put: async (url, body, ifMatch, options) => note('PUT', url, await api.put(url, body, ifMatch, options)),
    }
  }

  /** Over GraphQL, where the asker says which use cases the operation calls. */
  ask(service: TestService, token: string, clinicId: string) {
    const ask = asker(service, token)
    return async (
      events: readonly string[],
      query: string,
      variables: Record<string, unknown> = {},
    ): Promise<GraphqlAnswer> => {
      const answer = await ask(query, variables)
      this.#note(clinicId, query, answer, events)
      return answer.body
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

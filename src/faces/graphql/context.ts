/** What a resolver is given: who asks, and a way to load one record that asks for many of them at once. */
import DataLoader from 'dataloader'
import type { Context } from '../../application/context.ts'
import type { TeamContext } from '../../application/sharing/perform-for-team.ts'
import { canonicalJson } from '../../domain/canonical-json.ts'
import { AppError } from '../../domain/errors.ts'
import { contextOf, requirePurposeWord, teamContextOf, type Asker, type FaceDeps } from '../context.ts'
import type { Database } from '../../tenancy/database.ts'
import { Turns } from './turns.ts'

/** A use case over many ids; its answers stand in the order of the ids. Without an answer: not found, whatever the cause. */
export interface Batch<Ask, Answer> {
  (ctx: Context, ids: readonly string[], ask: Ask): Promise<readonly (Answer | AppError | null)[]>
  /** Fewer at once, where each brings a long history with it. */
  most?: number
}

export interface GraphqlContext {
  readonly deps: FaceDeps
  readonly request: Asker
  /** Of a member of a clinic; a team's token is refused. */
  readonly clinic: () => Context
  /** Of the reader of a team; a clinic's token is refused. */
  readonly team: () => TeamContext
  readonly load: <Ask, Answer>(batch: Batch<Ask, Answer>, ask: Ask, id: string) => Promise<Answer>
  /** After a change: what was loaded before it may be otherwise now. */
  readonly forget: () => void
}

/** Ids asked for in one turn of the event loop become one call, up to this many. */
const MAX_BATCH = 200

/** Of ten connections for clinics and four for teams: an operation may have thirty fields that ask, and is not the only one. */
const AT_ONCE = { clinic: 4, team: 2 }

export function graphqlContext(request: Asker, deps: FaceDeps): GraphqlContext {
  // One context and one instant for the whole operation: all its answers are of the same moment.
  const clinic = once(() => {
    if (request.actor?.kind === 'team') throw new AppError('forbidden', { detail: 'A team token may not do that.' })
    requirePurposeWord(request)
    return contextOf(request, { ...deps, db: inTurns(deps.db, AT_ONCE.clinic) })
  })
  const team = once(() => {
    if (request.actor?.kind === 'clinic') throw new AppError('forbidden', { detail: 'Only the reader of a team may do that.' }) // prettier-ignore
    return teamContextOf(request, { ...deps, teamDb: deps.teamDb && inTurns(deps.teamDb, AT_ONCE.team) })
  })
  return { deps, request, clinic, team, ...makeLoad(clinic) }
}

function inTurns<D extends Database>(db: D, atOnce: number): D {
  const turns = new Turns(atOnce)
  return { ...db, inTurn: (transaction) => turns.take(transaction) }
}

function makeLoad(clinic: () => Context): Pick<GraphqlContext, 'load' | 'forget'> {
  const loaders = new Map<unknown, Map<string, DataLoader<string, unknown>>>()
  const load = <Ask, Answer>(batch: Batch<Ask, Answer>, ask: Ask, id: string) => {
    const ofBatch = loaders.get(batch) ?? new Map<string, DataLoader<string, unknown>>()
    loaders.set(batch, ofBatch)
    const key = canonicalJson(ask)
    const loader =
      ofBatch.get(key) ?? new DataLoader(inSlots(clinic, batch, ask), { maxBatchSize: batch.most ?? MAX_BATCH })
    ofBatch.set(key, loader)
    return loader.load(id) as Promise<Answer>
  }
  return { load, forget: () => loaders.clear() }
}

function inSlots<Ask, Answer>(clinic: () => Context, batch: Batch<Ask, Answer>, ask: Ask) {
  return async (ids: readonly string[]): Promise<(Answer | Error)[]> => {
    const answers = await batch(clinic(), ids, ask)
    return answers.map((answer) => answer ?? new AppError('not_found'))
  }
}

function once<T>(make: () => T): () => T {
  let made: { readonly value: T } | null = null
  return () => (made ??= { value: make() }).value
}

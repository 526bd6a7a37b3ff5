/** Published or local criteria beside what is known of an episode on a date. States criteria; decides nothing. */
import type { Context } from '../context.ts'
import { perform } from '../perform.ts'
import {
  evaluateEpisode,
  loadRecord,
  setForQuery,
  todayOf,
  type Readiness,
  type WantedSet,
} from './evaluate-episode.ts'

interface When {
  readonly episodeId: string
  /** ISO date; null: today in the clinic. */
  readonly on: string | null
  readonly asKnownAt: Date | null
}

export interface ReadinessAsk extends When {
  /** null: the one the episode names. */
  readonly criteriaSet: WantedSet | null
}

export async function assessReadiness(ctx: Context, ask: ReadinessAsk): Promise<Readiness> {
  const { sets } = await assessSets(ctx, ask, [ask.criteriaSet])
  return sets[0] as Readiness
}

/** Several sets over one reading of the record, in the order asked for: none is better for having been asked alone. */
export async function compareReadiness(ctx: Context, ask: When & { readonly criteriaSets: readonly WantedSet[] }) {
  return assessSets(ctx, ask, ask.criteriaSets)
}

async function assessSets(ctx: Context, ask: When, wanted: readonly (WantedSet | null)[]) {
  const knownAt = ask.asKnownAt ?? ctx.now
  const on = ask.on ?? todayOf(ctx)
  const { record, found } = await perform(ctx, 'readiness.read', async (tx, trace) => {
    const loaded = await loadRecord(tx, ask.episodeId, knownAt)
    trace.subject(loaded.subject.id)
    trace.resource('episode', ask.episodeId)
    const sets = []
    for (const one of wanted) sets.push(await setForQuery(tx, loaded, one))
    for (const set of sets) trace.resource('criteria-set', `${set.key}@${set.version}`)
    return { record: loaded, found: sets }
  })
  const sets = found.map((set) => evaluateEpisode(record, set, on, knownAt).readiness)
  return { episodeId: ask.episodeId, on, asKnownAt: knownAt.toISOString(), sets }
}

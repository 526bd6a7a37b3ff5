/** Published or local criteria beside what is known of an episode on a date. States criteria; decides nothing. */
import { AppError } from '../../domain/errors.ts'
import type { Context } from '../context.ts'
import { perform } from '../perform.ts'
import { evaluateEpisode, loadRecord, setsForQuery, todayOf, type Readiness } from './evaluate-episode.ts'
import type { WantedSet } from './find-criteria-set.ts'
import { nameRecord, nameSet } from './name-evidence.ts'

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
    nameRecord(trace, loaded)
    const asked = wanted.map((one) => ({ record: loaded, wanted: one }))
    const sets = (await setsForQuery(tx, asked)).map(orRefuse)
    sets.forEach((set) => nameSet(trace, set))
    return { record: loaded, found: sets }
  })
  const sets = found.map((set) => evaluateEpisode(record, set, on, knownAt).readiness)
  return { episodeId: ask.episodeId, on, asKnownAt: knownAt.toISOString(), sets }
}

function orRefuse<T>(found: T | AppError): T {
  if (found instanceof AppError) throw found
  return found
}

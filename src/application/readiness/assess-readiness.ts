/** Published or local criteria beside what is known of an episode on a date. States criteria; decides nothing. */
import {
  COMPUTE_VERSION,
  evaluateCriteriaSet,
  inReadingOrder,
  REFERENCE_DATA_VERSION,
  type CriteriaSet,
} from '../../compute/index.ts'
import { AppError } from '../../domain/errors.ts'
import { loadEpisode } from '../../store/episode-store.ts'
import { loadObservations } from '../../store/observation-store.ts'
import { loadFunctionalResults } from '../../store/session-store.ts'
import type { ClinicTx } from '../../tenancy/with-clinic.ts'
import type { Context } from '../context.ts'
import { loadHistory } from '../judgement/history.ts'
import { perform } from '../perform.ts'
import { orNotFound } from '../shared/existing.ts'
import { collectEvidence, evaluationContext, type ReadinessRecord } from './collect-evidence.ts'
import { findCriteriaSet } from './find-criteria-set.ts'

export interface ReadinessAsk {
  readonly episodeId: string
  /** Key of a set; null: the one the episode names. */
  readonly criteriaSet: { readonly key: string; readonly version: number | null } | null
  /** ISO date; null: today in the clinic. */
  readonly on: string | null
  readonly asKnownAt: Date | null
}

export async function assessReadiness(ctx: Context, ask: ReadinessAsk) {
  const knownAt = ask.asKnownAt ?? ctx.now
  const on = ask.on ?? new Intl.DateTimeFormat('en-CA', { timeZone: ctx.actor.timeZone }).format(ctx.now)
  const { record, set } = await perform(ctx, 'readiness.read', async (tx, trace) => {
    const loaded = await loadRecord(tx, ask.episodeId, knownAt)
    trace.subject(loaded.subject.id)
    trace.resource('episode', ask.episodeId)
    const found = await setFor(tx, loaded, ask)
    trace.detail('criteriaSet', `${found.key}/${found.version}`)
    return { record: loaded, set: found }
  })
  return representReadiness(record, set, on, knownAt)
}

async function loadRecord(tx: ClinicTx, episodeId: string, knownAt: Date): Promise<ReadinessRecord> {
  const episode = orNotFound(await loadEpisode(tx, episodeId, knownAt))
  const { subjectId, joint } = episode
  const history = orNotFound(await loadHistory(tx, { subjectId, knownAt, joint, episodeId }))
  return {
    ...history,
    functionalResults: await loadFunctionalResults(tx, subjectId, knownAt),
    observations: await loadObservations(tx, episodeId, knownAt),
  }
}

async function setFor(tx: ClinicTx, record: ReadinessRecord, ask: ReadinessAsk): Promise<CriteriaSet> {
  const wanted = ask.criteriaSet ?? record.episode?.criteriaSet ?? null
  if (wanted === null) {
    throw new AppError('invalid_query', {
      detail: 'The episode names no criteria set: say which one.',
      faults: [{ pointer: '#/query/criteriaSet', code: 'missing', message: 'Name a criteria set.' }],
    })
  }
  const set = await findCriteriaSet(tx, wanted)
  if (set === null) {
    throw new AppError('invalid_query', {
      detail: 'No criteria set of that key and version is known here.',
      faults: [{ pointer: '#/query/criteriaSet', code: 'not_in_list', message: 'No such criteria set.' }],
    })
  }
  return set
}

function representReadiness(record: ReadinessRecord, set: CriteriaSet, on: string, knownAt: Date) {
  const answer = evaluateCriteriaSet(set, collectEvidence(record, set.criteria), evaluationContext(record, on))
  return {
    episodeId: record.episode?.id ?? '',
    subjectId: record.subject.id,
    on,
    asKnownAt: knownAt.toISOString(),
    involvedSide: record.episode?.involvedSide ?? null,
    sinceSurgery: answer.sinceSurgery,
    criteriaSet: {
      key: set.key,
      version: set.version,
      title: set.title,
      citation: set.citation,
      population: set.population.description,
      limits: set.limits,
      fromMemory: set.fromMemory,
      rule: set.rule,
      populationMatches: answer.population.matches,
      populationNote: answer.population.note,
    },
    overall: answer.overall,
    counts: answer.counts,
    criteria: inReadingOrder(answer.criteria).map((criterion) => ({
      ...criterion,
      observed: representObserved(criterion.observed),
    })),
    toAssess: answer.toAssess,
    expiresOn: answer.expiresOn,
    notes: answer.notes,
    computeVersion: COMPUTE_VERSION,
    referenceDataVersion: REFERENCE_DATA_VERSION,
  }
}

type Observed = ReturnType<typeof evaluateCriteriaSet>['criteria'][number]['observed']

function representObserved(observed: Observed) {
  if (observed === null || typeof observed === 'string') return observed
  const { interval, ...quantity } = observed
  return interval === null ? quantity : { ...quantity, interval }
}

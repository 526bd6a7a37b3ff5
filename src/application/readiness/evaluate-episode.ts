/** What one evaluation of an episode needs, and the evaluation itself: read at will, or frozen in a report. */
import {
  COMPUTE_VERSION,
  evaluateCriteriaSet,
  inReadingOrder,
  REFERENCE_DATA_VERSION,
  type CriteriaSet,
  type Evidence,
  type EvaluationContext,
} from '../../compute/index.ts'
import { AppError } from '../../domain/errors.ts'
import { loadEpisodes } from '../../store/episode-store.ts'
import { loadObservations } from '../../store/observation-store.ts'
import { loadFunctionalResults } from '../../store/session-store.ts'
import type { ClinicTx } from '../../tenancy/with-clinic.ts'
import type { Context } from '../context.ts'
import { loadHistories } from '../judgement/history.ts'
import { dayIn } from '../shared/clinic-days.ts'
import { orNotFound } from '../shared/existing.ts'
import { collectEvidence, evaluationContext, type ReadinessRecord } from './collect-evidence.ts'
import { findCriteriaSets, type WantedSet } from './find-criteria-set.ts'

/** By the calendar of the clinic. */
export const todayOf = (ctx: Context): string => dayIn(ctx.actor.timeZone, ctx.now)

export async function loadRecord(tx: ClinicTx, episodeId: string, knownAt: Date): Promise<ReadinessRecord> {
  return orNotFound((await loadRecords(tx, [episodeId], knownAt))[0])
}

/** Of the episodes that there are, in no order. As many statements for a hundred as for one. */
export async function loadRecords(
  tx: ClinicTx,
  episodeIds: readonly string[],
  knownAt: Date,
): Promise<readonly ReadinessRecord[]> {
  const episodes = await loadEpisodes(tx, episodeIds, knownAt)
  const asks = episodes.map(({ id, subjectId, joint }) => ({ subjectId, joint, episodeId: id }))
  const histories = await loadHistories(tx, asks, { knownAt })
  const subjectIds = [...new Set(asks.map(({ subjectId }) => subjectId))]
  const functional = Map.groupBy(await loadFunctionalResults(tx, subjectIds, knownAt), (row) => row.subjectId)
  const observations = Map.groupBy(await loadObservations(tx, episodeIds, knownAt), (row) => row.episodeId)
  return histories.flatMap((history) =>
    history === null
      ? []
      : {
          ...history,
          functionalResults: functional.get(history.subject.id) ?? [],
          observations: observations.get(history.episode?.id ?? '') ?? [],
        },
  )
}

interface SetAsked {
  readonly record: ReadinessRecord
  readonly wanted: WantedSet | null
}

/** The set asked for, else the one that the episode names; or a word for why there is none. */
export async function setsFor(
  tx: ClinicTx,
  asked: readonly SetAsked[],
): Promise<readonly (CriteriaSet | 'none_named' | 'not_known')[]> {
  const names = asked.map(({ record, wanted }) => wanted ?? record.episode?.criteriaSet ?? null)
  const found = await findCriteriaSets(
    tx,
    names.filter((name) => name !== null),
  )
  let next = 0
  return names.map((name) => (name === null ? 'none_named' : (found[next++] ?? 'not_known')))
}

/** As answers to a query: the set, or the refusal. */
export async function setsForQuery(
  tx: ClinicTx,
  asked: readonly SetAsked[],
): Promise<readonly (CriteriaSet | AppError)[]> {
  return (await setsFor(tx, asked)).map((set) => {
    if (set === 'none_named') {
      return new AppError('invalid_query', {
        detail: 'The episode names no criteria set: say which one.',
        faults: [{ pointer: '#/query/criteriaSet', code: 'missing', message: 'Name a criteria set.' }],
      })
    }
    if (set === 'not_known') {
      return new AppError('invalid_query', {
        detail: 'No criteria set of that key and version is known here.',
        faults: [{ pointer: '#/query/criteriaSet', code: 'not_in_list', message: 'No such criteria set.' }],
      })
    }
    return set
  })
}

export interface EpisodeEvaluation {
  readonly set: CriteriaSet
  readonly evidence: Evidence
  readonly context: EvaluationContext
  readonly readiness: Readiness
}

export function evaluateEpisode(
  record: ReadinessRecord,
  set: CriteriaSet,
  on: string,
  knownAt: Date,
): EpisodeEvaluation {
  const evidence = collectEvidence(record, set.criteria)
  const context = evaluationContext(record, on)
  return { set, evidence, context, readiness: represent(record, set, evidence, context, knownAt) }
}

export type Readiness = ReturnType<typeof represent>

function represent(
  record: ReadinessRecord,
  set: CriteriaSet,
  evidence: Evidence,
  context: EvaluationContext,
  knownAt: Date,
) {
  const answer = evaluateCriteriaSet(set, evidence, context)
  return {
    episodeId: record.episode?.id ?? '',
    subjectId: record.subject.id,
    on: context.on,
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

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
import { loadEpisode } from '../../store/episode-store.ts'
import { loadObservations } from '../../store/observation-store.ts'
import { loadFunctionalResults } from '../../store/session-store.ts'
import type { ClinicTx } from '../../tenancy/with-clinic.ts'
import type { Context } from '../context.ts'
import { loadHistory } from '../judgement/history.ts'
import { dayIn } from '../shared/clinic-days.ts'
import { orNotFound } from '../shared/existing.ts'
import { collectEvidence, evaluationContext, type ReadinessRecord } from './collect-evidence.ts'
import { findCriteriaSet } from './find-criteria-set.ts'

export interface WantedSet {
  readonly key: string
  /** null: the newest. */
  readonly version: number | null
}

/** By the calendar of the clinic. */
export const todayOf = (ctx: Context): string => dayIn(ctx.actor.timeZone, ctx.now)

export async function loadRecord(tx: ClinicTx, episodeId: string, knownAt: Date): Promise<ReadinessRecord> {
  const episode = orNotFound(await loadEpisode(tx, episodeId, knownAt))
  const { subjectId, joint } = episode
  const history = orNotFound(await loadHistory(tx, { subjectId, knownAt, joint, episodeId }))
  return {
    ...history,
    functionalResults: await loadFunctionalResults(tx, subjectId, knownAt),
    observations: await loadObservations(tx, episodeId, knownAt),
  }
}

/** The set asked for, else the one that the episode names; null: neither names one that is known here. */
export async function setFor(tx: ClinicTx, record: ReadinessRecord, wanted: WantedSet | null) {
  const named = wanted ?? record.episode?.criteriaSet ?? null
  return named === null ? 'none_named' : ((await findCriteriaSet(tx, named)) ?? 'not_known')
}

export async function setForQuery(
  tx: ClinicTx,
  record: ReadinessRecord,
  wanted: WantedSet | null,
): Promise<CriteriaSet> {
  const set = await setFor(tx, record, wanted)
  if (set === 'none_named') {
    throw new AppError('invalid_query', {
      detail: 'The episode names no criteria set: say which one.',
      faults: [{ pointer: '#/query/criteriaSet', code: 'missing', message: 'Name a criteria set.' }],
    })
  }
  if (set === 'not_known') {
    throw new AppError('invalid_query', {
      detail: 'No criteria set of that key and version is known here.',
      faults: [{ pointer: '#/query/criteriaSet', code: 'not_in_list', message: 'No such criteria set.' }],
    })
  }
  return set
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

/** An evaluation as it goes into a report: all it looked at and all it said, with what it rests on. */
import { v7 as uuidv7 } from 'uuid'
import { canonicalSha256 } from '../../domain/canonical-json.ts'
import { insertEvaluation } from '../../store/report-store.ts'
import { latestTestedAt } from '../../store/session-store.ts'
import type { ClinicTx } from '../../tenancy/with-clinic.ts'
import type { Context } from '../context.ts'
import type { ReadinessRecord } from '../readiness/collect-evidence.ts'
import type { EpisodeEvaluation } from '../readiness/evaluate-episode.ts'
import { startOfDay } from '../shared/clinic-days.ts'
import { docHashOf } from '../shared/doc-hash.ts'

const EVALUATION_FORMAT = 'limb-ledger-evaluation/1'

export interface FrozenEvaluation {
  readonly id: string
  readonly sha256: string
}

export async function freezeEvaluation(
  tx: ClinicTx,
  ctx: Context,
  record: ReadinessRecord,
  evaluation: EpisodeEvaluation,
): Promise<FrozenEvaluation> {
  const { set, context, evidence, readiness } = evaluation
  const { episodeId, on } = readiness
  const document = JSON.parse(
    JSON.stringify({ format: EVALUATION_FORMAT, criteriaSet: set, context, evidence, answer: readiness }),
  ) as object
  const id = uuidv7({ msecs: ctx.now.getTime() })
  const until = await latestTestedAt(tx, sessionsUpTo(record, on))
  await insertEvaluation(tx, {
    id,
    episodeId,
    effectiveOn: on,
    knownAt: ctx.now,
    document,
    docHash: docHashOf(document),
    evidenceUntil: until ?? startOfDay(ctx.actor.timeZone, on),
    basis: basisOf(evaluation),
  })
  return { id, sha256: canonicalSha256(document) }
}

/** By the dates as written, as the evaluation counts days. */
function sessionsUpTo(record: ReadinessRecord, on: string): string[] {
  const strength = record.results.map((row) => ({ id: row.sessionId, day: row.startedAt.slice(0, 10) }))
  const functional = record.functionalResults.map((row) => ({
    id: row.sessionId,
    day: row.performedAtAsSent.slice(0, 10),
  }))
  return [...new Set([...strength, ...functional].filter(({ day }) => day <= on).map(({ id }) => id))]
}

/** Every piece of evidence that a criterion names, and the old tests of the other limb where a capacity was shown beside it. */
function basisOf({ evidence, readiness }: EpisodeEvaluation): string[] {
  const named = readiness.criteria.flatMap((criterion) =>
    criterion.evidence.map((reference) => {
      if ('resultId' in reference) return reference.resultId
      return 'functionalResultId' in reference ? reference.functionalResultId : reference.observationId
    }),
  )
  const beside = readiness.criteria.some((criterion) => criterion.beside !== null)
  return [...new Set([...named, ...(beside ? evidence.preInjury.map(({ resultId }) => resultId) : [])])]
}

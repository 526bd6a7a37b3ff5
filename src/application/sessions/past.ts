/** What is known of the subject from before a visit: the history that a pushed session is held against. */
import { loadCalibrationChecks, type CalibrationRow } from '../../store/dynamometer-store.ts'
import { loadEpisodesOfSubject, type EpisodeRow } from '../../store/episode-store.ts'
import { isHolding, loadFlags } from '../../store/flag-store.ts'
import { loadResults, type JudgedResultRow } from '../../store/result-store.ts'
import { loadWeighedSetups, type WeighedSetup } from '../../store/session-store.ts'
import type { ClinicTx } from '../../tenancy/with-clinic.ts'
import type { Context } from '../context.ts'
import type { SessionPlace } from './resolve-place.ts'
import type { SessionContent } from './session-content.ts'

export interface Past {
  /** Earlier results of the subject that stand, oldest first. */
  readonly results: readonly JudgedResultRow[]
  readonly setups: readonly WeighedSetup[]
  readonly lastBodyMassKg: number | null
  readonly lastCalibration: CalibrationRow | null
  /** All of the subject: a visit may name none of them. */
  readonly episodes: readonly EpisodeRow[]
}

export async function loadPast(
  tx: ClinicTx,
  ctx: Context,
  place: SessionPlace,
  content: SessionContent,
): Promise<Past> {
  const subjectId = place.subject.id
  const { sessionId, testedAt } = content.session
  const all = await loadResults(tx, { subjectIds: [subjectId], knownAt: ctx.now })
  const flags = await loadFlags(tx, { subjectId }, ctx.now)
  const results = all.filter(
    (row) =>
      row.sessionId !== sessionId &&
      row.testedAt < testedAt &&
      !flags.some((flag) => flag.resultId === row.id && isHolding(flag, ctx.now)),
  )
  const checks = place.dynamometerId === null ? [] : await loadCalibrationChecks(tx, place.dynamometerId, 20)
  return {
    results,
    setups: await loadWeighedSetups(tx, subjectId, testedAt),
    lastBodyMassKg: results.findLast((row) => row.bodyMassKg !== null)?.bodyMassKg ?? null,
    lastCalibration: checks.find((check) => check.checkedAt <= testedAt) ?? null,
    episodes: await loadEpisodesOfSubject(tx, subjectId, ctx.now),
  }
}

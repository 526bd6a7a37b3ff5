/** All that is asked to judge a subject's results as known at an instant: loaded in one short transaction. */
import type { ClinicError, ComparabilityRule } from '../../compute/index.ts'
import { loadEpisode, loadEpisodesOfSubject, type EpisodeRow } from '../../store/episode-store.ts'
import { isHolding, loadFlags, type FlagRow } from '../../store/flag-store.ts'
import { loadMeasurementErrors, type MeasurementErrorRow } from '../../store/measurement-error-store.ts'
import { loadResults, type JudgedResultRow } from '../../store/result-store.ts'
import { loadSubject, type SubjectRow } from '../../store/subject-store.ts'
import type { ClinicTx } from '../../tenancy/with-clinic.ts'
import { loadRulesInForce } from './rules-in-force.ts'

export interface History {
  readonly subject: SubjectRow
  /** The episode judged by; null where the subject has none for the joint. */
  readonly episode: EpisodeRow | null
  readonly results: readonly JudgedResultRow[]
  readonly flags: readonly FlagRow[]
  readonly clinicErrors: readonly MeasurementErrorRow[]
  /** By which its tests are compared. */
  readonly rules: readonly ComparabilityRule[]
  readonly knownAt: Date
}

export async function loadHistory(
  tx: ClinicTx,
  ask: { subjectId: string; knownAt: Date; joint: string; episodeId: string | null; series?: string },
): Promise<History | null> {
  const subject = await loadSubject(tx, ask.subjectId, ask.knownAt)
  if (subject === null) return null
  const episode =
    ask.episodeId === null
      ? newestOf(await loadEpisodesOfSubject(tx, ask.subjectId, ask.knownAt), ask.joint)
      : await loadEpisode(tx, ask.episodeId, ask.knownAt)
  const series = ask.series === undefined ? {} : { series: ask.series }
  return {
    subject,
    episode,
    results: await loadResults(tx, { subjectId: ask.subjectId, knownAt: ask.knownAt, ...series }),
    flags: await loadFlags(tx, { subjectId: ask.subjectId }, ask.knownAt),
    clinicErrors: await loadMeasurementErrors(tx, ask.knownAt, ask.series ?? null),
    rules: await loadRulesInForce(tx, ask.knownAt),
    knownAt: ask.knownAt,
  }
}

/** Of several episodes of a joint the one begun last. */
function newestOf(episodes: readonly EpisodeRow[], joint: string): EpisodeRow | null {
  return episodes.filter((episode) => episode.joint === joint && episode.status !== 'cancelled').at(-1) ?? null
}

export function flagsOf(history: Pick<History, 'flags'>, row: JudgedResultRow): readonly FlagRow[] {
  return history.flags.filter(
    (flag) => flag.resultId === row.id || (flag.resultId === null && flag.sessionId === row.sessionId),
  )
}

/** The code of what keeps a result out of progress; null: it stands. */
export function holdOn(history: Pick<History, 'flags' | 'knownAt'>, row: JudgedResultRow): string | null {
  return flagsOf(history, row).find((flag) => isHolding(flag, history.knownAt))?.code ?? null
}

/** The clinic's own errors of a series and measure, newest first. */
export function clinicErrorsOf(
  history: Pick<History, 'clinicErrors'>,
  series: string,
  measure: string,
): readonly ClinicError[] {
  return history.clinicErrors.filter((e) => e.series === series && e.measure === measure).toReversed()
}

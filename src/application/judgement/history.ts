/** All that is asked to judge a subject's results as known at an instant: loaded in one short transaction. */
import type { ComparabilityRule } from '../../compute/index.ts'
import { loadEpisodesOfSubjects, type EpisodeRow } from '../../store/episode-store.ts'
import { isHolding, loadFlags, type FlagRow } from '../../store/flag-store.ts'
import { loadMeasurementErrors, type MeasurementErrorRow } from '../../store/measurement-error-store.ts'
import { loadResults, type JudgedResultRow } from '../../store/result-store.ts'
import { loadSubjects, type SubjectRow } from '../../store/subject-store.ts'
import type { ClinicTx } from '../../tenancy/with-clinic.ts'
import { distinctIds } from '../shared/batch.ts'
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

interface HistoryAsk {
  readonly subjectId: string
  readonly joint: string
  /** null: the newest of the joint. */
  readonly episodeId: string | null
}

interface Known {
  readonly knownAt: Date
  readonly series?: string
}

export async function loadHistory(tx: ClinicTx, ask: HistoryAsk & Known): Promise<History | null> {
  return (await loadHistories(tx, [ask], ask))[0] ?? null
}

/** In the order asked; null: no such subject. As many statements for a hundred as for one. */
export async function loadHistories(
  tx: ClinicTx,
  asks: readonly HistoryAsk[],
  { knownAt, series }: Known,
): Promise<(History | null)[]> {
  const subjects = await loadSubjects(tx, distinctIds(asks.map((ask) => ask.subjectId)), knownAt)
  if (subjects.length === 0) return asks.map(() => null)
  const subjectIds = subjects.map(({ id }) => id)
  const episodes = Map.groupBy(await loadEpisodesOfSubjects(tx, subjectIds, knownAt), (row) => row.subjectId)
  const ofSeries = series === undefined ? {} : { series }
  const results = Map.groupBy(await loadResults(tx, { subjectIds, knownAt, ...ofSeries }), (row) => row.subjectId)
  const flags = Map.groupBy(await loadFlags(tx, { subjectId: { in: subjectIds } }, knownAt), (row) => row.subjectId)
  const clinicErrors = await loadMeasurementErrors(tx, knownAt, series ?? null)
  const rules = await loadRulesInForce(tx, knownAt)
  const found = new Map(subjects.map((subject) => [subject.id, subject]))
  return asks.map(({ subjectId, joint, episodeId }) => {
    const subject = found.get(subjectId.toLowerCase())
    if (subject === undefined) return null
    const own = episodes.get(subject.id) ?? []
    return {
      subject,
      episode: episodeId === null ? newestOf(own, joint) : (own.find(({ id }) => id === episodeId) ?? null),
      results: results.get(subject.id) ?? [],
      flags: flags.get(subject.id) ?? [],
      clinicErrors,
      rules,
      knownAt,
    }
  })
}

/** Of several episodes of a joint the one begun last. */
export function newestOf(episodes: readonly EpisodeRow[], joint: string): EpisodeRow | null {
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
): readonly MeasurementErrorRow[] {
  return history.clinicErrors.filter((e) => e.series === series && e.measure === measure).toReversed()
}

/** Results: one row per set and direction. The trend of a subject's series is one index scan, both sides at once. */
import type { ClinicTx } from '../tenancy/with-clinic.ts'
import { Prisma } from './generated/client.ts'
import type { VersionOfSession } from './session-store.ts'

export interface AnalysisWrite {
  readonly id: string
  readonly setId: string
  readonly computeVersion: string
  readonly paramsHash: Uint8Array<ArrayBuffer>
  readonly params: unknown
  readonly method: unknown
  readonly findings: unknown
}

export interface ResultWrite {
  readonly id: string
  readonly analysisId: string
  readonly setId: string
  readonly sessionId: string
  readonly sessionVersion: number
  readonly subjectId: string
  readonly series: string
  readonly movement: string
  readonly side: 'left' | 'right'
  readonly origin: 'computed' | 'reported'
  readonly testedAt: Date
  readonly comparabilityHash: Uint8Array<ArrayBuffer>
  readonly bodyMassKg: number | null
  readonly nCounted: number | null
  readonly peakTorqueNm: number | null
  readonly meanPeakTorqueNm: number | null
  readonly peakTorqueCvPercent: number | null
  readonly angleOfPeakTorqueDeg: number | null
  readonly workPerRepetitionJ: number | null
  readonly totalWorkJ: number | null
  readonly averagePowerW: number | null
  readonly rangeOfMotionDeg: number | null
  readonly loadRangeDeg: number | null
  readonly measures: unknown
  readonly repetitions: unknown
}

/** The hot columns serve SQL; whoever judges a result reads them from `measures`. */
type HotColumn =
  | 'peakTorqueNm'
  | 'meanPeakTorqueNm'
  | 'peakTorqueCvPercent'
  | 'angleOfPeakTorqueDeg'
  | 'workPerRepetitionJ'
  | 'totalWorkJ'
  | 'averagePowerW'
  | 'rangeOfMotionDeg'
  | 'loadRangeDeg'

export interface ResultRow extends Omit<ResultWrite, 'comparabilityHash' | HotColumn> {
  readonly comparabilityHash: Uint8Array
  readonly recordedAt: Date
  readonly isCurrent: boolean
}

/** A result with what is needed to judge it: its method, its visit, the facts of its set. */
export interface JudgedResultRow extends ResultRow {
  readonly setKey: string
  readonly computeVersion: string
  readonly method: unknown
  readonly startedAt: string
  readonly visitFacts: unknown
  readonly keyFacts: unknown
}

export interface KeyWrite {
  readonly hash: Uint8Array<ArrayBuffer>
  readonly facts: unknown
}

/** In one order, so that two pushes with the same new keys wait for one another and never in a ring. */
export async function insertComparabilityKeys(tx: ClinicTx, keys: readonly KeyWrite[]): Promise<void> {
  if (keys.length === 0) return
  await tx.comparabilityKey.createMany({
    data: keys
      .toSorted((a, b) => Buffer.compare(a.hash, b.hash))
      .map(({ hash, facts }) => ({ clinicId: tx.clinicId, hash, facts: facts as Prisma.InputJsonValue })),
    skipDuplicates: true,
  })
}

export async function insertAnalyses(tx: ClinicTx, writes: readonly AnalysisWrite[], recordedAt: Date): Promise<void> {
  await tx.analysis.createMany({
    data: writes.map((write) => ({
      ...write,
      clinicId: tx.clinicId,
      recordedAt,
      params: write.params as Prisma.InputJsonValue,
      method: write.method as Prisma.InputJsonValue,
      findings: write.findings as Prisma.InputJsonValue,
    })),
  })
}

export async function insertResults(tx: ClinicTx, writes: readonly ResultWrite[], recordedAt: Date): Promise<void> {
  await tx.setResult.createMany({
    data: writes.map((write) => ({
      ...write,
      clinicId: tx.clinicId,
      isCurrent: true,
      recordedAt,
      measures: write.measures as Prisma.InputJsonValue,
      repetitions: write.repetitions as Prisma.InputJsonValue,
    })),
  })
}

/** Half of a result is the list of its repetitions, which nobody judges by: it is read where it is shown. */
const WITHOUT_LIST = Prisma.sql`r.repetitions - 'list'`

/** One statement for every way of asking: row-level security and the caller's condition decide what comes back. */
async function judgedResults(
  tx: ClinicTx,
  condition: Prisma.Sql,
  order: Prisma.Sql,
  repetitions = WITHOUT_LIST,
): Promise<JudgedResultRow[]> {
  return tx.$queryRaw<JudgedResultRow[]>`
    select r.id, r.analysis_id as "analysisId", r.set_id as "setId", r.session_id as "sessionId",
           r.session_version as "sessionVersion", r.subject_id as "subjectId", r.series, r.movement, r.side, r.origin,
           r.is_current as "isCurrent", r.tested_at as "testedAt", r.recorded_at as "recordedAt",
           r.comparability_hash as "comparabilityHash", r.body_mass_kg as "bodyMassKg", r.n_counted as "nCounted",
           r.measures, ${repetitions} as repetitions, t.key as "setKey", a.compute_version as "computeVersion", a.method,
           v.started_at as "startedAt", v.visit_facts as "visitFacts", k.facts as "keyFacts"
    from set_result r
    join test_set t on t.clinic_id = r.clinic_id and t.id = r.set_id
    join analysis a on a.clinic_id = r.clinic_id and a.id = r.analysis_id
    join session_version v
      on v.clinic_id = r.clinic_id and v.session_id = r.session_id and v.version = r.session_version
    join comparability_key k on k.clinic_id = r.clinic_id and k.hash = r.comparability_hash
    where r.clinic_id = ${tx.clinicId}::uuid and ${condition}
    order by ${order}`
}

/** What was in force as known at an instant, oldest test first. No series: all of them. */
export async function loadResults(
  tx: ClinicTx,
  filter: { subjectIds: readonly string[]; knownAt: Date; series?: string },
): Promise<JudgedResultRow[]> {
  const series = filter.series === undefined ? Prisma.empty : Prisma.sql`and r.series = ${filter.series}`
  return judgedResults(
    tx,
    Prisma.sql`r.subject_id = any(${filter.subjectIds}::uuid[]) ${series} and r.recorded_at <= ${filter.knownAt}
      and (r.superseded_at is null or r.superseded_at > ${filter.knownAt})`,
    Prisma.sql`r.tested_at, r.id`,
  )
}

/** Of each set the newest analysis: an older one stands behind it, for whoever asks by its id or by an earlier time. */
export async function loadResultsOfSessions(tx: ClinicTx, of: readonly VersionOfSession[]): Promise<JudgedResultRow[]> {
  const ids = of.map(({ sessionId }) => sessionId)
  const versions = of.map(({ sessionVersion }) => sessionVersion)
  return judgedResults(
    tx,
    Prisma.sql`r.session_id = any(${ids}::uuid[])
      and (r.session_id, r.session_version) in (select * from unnest(${ids}::uuid[], ${versions}::int[]))
      and not exists (select from analysis n where n.clinic_id = a.clinic_id and n.set_id = a.set_id
                        and (n.recorded_at, n.id) > (a.recorded_at, a.id))`,
    Prisma.sql`t.ordinal, r.id`,
  )
}

export async function loadResult(tx: ClinicTx, id: string): Promise<JudgedResultRow | null> {
  return (await loadResultsById(tx, [id]))[0] ?? null
}

export async function loadResultsById(tx: ClinicTx, ids: readonly string[]): Promise<JudgedResultRow[]> {
  return judgedResults(tx, Prisma.sql`r.id = any(${ids}::uuid[])`, Prisma.sql`r.id`, Prisma.sql`r.repetitions`)
}

export interface SeriesRow {
  readonly subjectId: string
  readonly series: string
  readonly side: string
  readonly tests: number
  readonly firstTestedAt: Date
  readonly lastTestedAt: Date
}

/** Which series subjects have, with their sides, counts and first and last test. */
export async function loadSeries(tx: ClinicTx, subjectIds: readonly string[]): Promise<SeriesRow[]> {
  return tx.$queryRaw<SeriesRow[]>`
    select subject_id as "subjectId", series, side, count(*)::int as tests,
           min(tested_at) as "firstTestedAt", max(tested_at) as "lastTestedAt"
    from set_result
    where clinic_id = ${tx.clinicId}::uuid and subject_id = any(${subjectIds}::uuid[]) and is_current
    group by subject_id, series, side order by series, side`
}

/** Where a result comes from: the setup and the recording of its set, the parameters of its analysis. */
export interface Provenance {
  readonly analysisId: string
  readonly setupId: string
  readonly setupKey: string
  /** null: the values were reported. */
  readonly recordingSha: Uint8Array | null
  readonly params: unknown
  readonly paramsHash: Uint8Array
}

export async function loadProvenances(tx: ClinicTx, analysisIds: readonly string[]): Promise<Provenance[]> {
  return tx.$queryRaw<Provenance[]>`
    select a.id as "analysisId", t.setup_id as "setupId", s.key as "setupKey", t.recording_sha as "recordingSha",
           a.params, a.params_hash as "paramsHash"
    from analysis a
    join test_set t on t.clinic_id = a.clinic_id and t.id = a.set_id
    join setup s on s.clinic_id = t.clinic_id and s.id = t.setup_id
    where a.clinic_id = ${tx.clinicId}::uuid and a.id = any(${analysisIds}::uuid[])`
}

export interface SeriesMeasureRow {
  readonly subjectId: string
  readonly series: string
  readonly measure: string
  readonly statistic: string
  readonly angleDeg: number | null
}

/** Which statistics of which measures a series has a value of, in force; torque at an angle by its angle. */
export async function loadSeriesMeasures(tx: ClinicTx, subjectIds: readonly string[]): Promise<SeriesMeasureRow[]> {
  return tx.$queryRaw<SeriesMeasureRow[]>`
    with measured as (
      select r.subject_id as "subjectId", r.series, m.key as measure, m.value as document
      from set_result r, jsonb_each(r.measures) m
      where r.clinic_id = ${tx.clinicId}::uuid and r.subject_id = any(${subjectIds}::uuid[]) and r.is_current
    )
    select d."subjectId", d.series, d.measure, s.key as statistic, null::float8 as "angleDeg"
    from measured d, jsonb_each(case jsonb_typeof(d.document) when 'object' then d.document else '{}' end) s
    where jsonb_typeof(s.value -> 'value') = 'number'
    union
    select d."subjectId", d.series, d.measure, s.key, (a.value -> 'angle' ->> 'value')::float8
    from measured d, jsonb_array_elements(case jsonb_typeof(d.document) when 'array' then d.document else '[]' end) a,
         jsonb_each(a.value - 'angle') s
    where jsonb_typeof(s.value -> 'value') = 'number'`
}

/** Results in force of one series, of everyone who ever made a repeat test; by subject, oldest first. */
export async function loadResultsOfRepeaters(tx: ClinicTx, series: string): Promise<JudgedResultRow[]> {
  return judgedResults(
    tx,
    Prisma.sql`r.series = ${series} and r.is_current and r.subject_id in (
      select subject_id from session_version
      where clinic_id = ${tx.clinicId}::uuid and superseded_at is null and document ->> 'purpose' = 'repeat_test')`,
    Prisma.sql`r.subject_id, r.tested_at, r.id`,
  )
}

/**
 * Everything that is kept about one subject, table by table. The tables that erase_subject empties: a test holds the two
 * lists against each other, so that nothing is erased that could not be had before, nor kept that was not shown.
 */
import type { ClinicTx } from '../tenancy/with-clinic.ts'

type Row = Readonly<Record<string, unknown>>

/** Rows that belong to the subject, each as `t`; sessions under somebody else's name now count by their version. */
const OWN = 't.clinic_id = $1::uuid and t.subject_id = $2::uuid'
const EPISODES = 'select id from episode where clinic_id = $1::uuid and subject_id = $2::uuid'
const SESSIONS = 'select id from session where clinic_id = $1::uuid and subject_id = $2::uuid'
const VERSIONS = `select session_id, version from session_version v where v.clinic_id = $1::uuid
  and (v.subject_id = $2::uuid or v.session_id in (${SESSIONS}))`
const SETS = `select id from test_set s where s.clinic_id = $1::uuid and (s.session_id, s.session_version) in (${VERSIONS})`
const EVALUATIONS = `select id from evaluation where clinic_id = $1::uuid and episode_id in (${EPISODES})`
const REPORTS = `select id from report where clinic_id = $1::uuid
  and (subject_id = $2::uuid or evaluation_id in (${EVALUATIONS}))`

const SHARES = `select id from report_share where clinic_id = $1::uuid and report_id in (${REPORTS})`

const inClinic = (condition: string): string => `t.clinic_id = $1::uuid and ${condition}`

/** Name in the archive, table, and which of its rows. Without the recordings' bytes, which go by another way. */
export const SUBJECT_TABLES = {
  versions: ['subject_version', OWN],
  identifiers: ['subject_identifier', OWN],
  legalHolds: ['legal_hold', OWN],
  episodes: ['episode', OWN],
  episodeVersions: ['episode_version', inClinic(`t.episode_id in (${EPISODES})`)],
  clinicianObservations: ['clinician_observation', inClinic(`t.episode_id in (${EPISODES})`)],
  sessions: ['session', inClinic(`t.id in (${SESSIONS})`)],
  sessionVersions: ['session_version', inClinic(`(t.session_id, t.version) in (${VERSIONS})`)],
  setups: ['setup', inClinic(`(t.session_id, t.session_version) in (${VERSIONS})`)],
  referenceSetups: ['reference_setup', OWN],
  testPlans: ['test_plan', OWN],
  sets: ['test_set', inClinic(`(t.session_id, t.session_version) in (${VERSIONS})`)],
  analyses: ['analysis', inClinic(`t.set_id in (${SETS})`)],
  results: ['set_result', inClinic(`t.set_id in (${SETS})`)],
  functionalResults: ['functional_result', inClinic(`(t.subject_id = $2::uuid or t.session_id in (${SESSIONS}))`)],
  flags: ['flag', inClinic(`(t.subject_id = $2::uuid or t.session_id in (${SESSIONS}))`)],
  evaluations: ['evaluation', inClinic(`t.id in (${EVALUATIONS})`)],
  evaluationBasis: ['evaluation_basis', inClinic(`t.evaluation_id in (${EVALUATIONS})`)],
  reports: ['report', inClinic(`t.id in (${REPORTS})`)],
  reportProjections: ['report_projection', inClinic(`t.report_id in (${REPORTS})`)],
  consents: ['consent', OWN],
  reportShares: ['report_share', inClinic(`t.id in (${SHARES})`)],
  sharedReports: ['shared_report', inClinic(`t.id in (${SHARES})`)],
} as const satisfies Record<string, readonly [table: string, rows: string]>

export type ArchiveSection = keyof typeof SUBJECT_TABLES

/** Rows as they are kept, keys in the style of the interface; digests of documents left out, which say nothing more. */
export async function loadSubjectRows(tx: ClinicTx, section: ArchiveSection, subjectId: string): Promise<Row[]> {
  const [table, rows] = SUBJECT_TABLES[section]
  // Table and condition are of the list above; the only values are parameters.
  const found = await tx.$queryRawUnsafe<{ row: Row }[]>(
    `select to_jsonb(t) - 'clinic_id' - 'doc_hash' - 'params_hash' - 'comparability_hash' as row
     from ${table} t where ${rows} order by t`,
    tx.clinicId,
    subjectId,
  )
  return found.map(({ row }) => withCamelKeys(row))
}

/** Digests of the recordings of the subject, in order. */
export async function listSubjectRecordings(tx: ClinicTx, subjectId: string): Promise<string[]> {
  const rows = await tx.$queryRawUnsafe<{ sha: string }[]>(
    `select distinct encode(t.recording_sha, 'hex') as sha from test_set t
     where t.clinic_id = $1::uuid and t.recording_sha is not null
       and (t.session_id, t.session_version) in (${VERSIONS}) order by 1`,
    tx.clinicId,
    subjectId,
  )
  return rows.map(({ sha }) => sha)
}

const withCamelKeys = (row: Row): Row =>
  Object.fromEntries(
    Object.entries(row).map(([key, value]) => [
      key.replace(/_(\w)/g, (_, letter: string) => letter.toUpperCase()),
      value,
    ]),
  )

/**
 * One set analysed again and the new analysis put in force: read, close, compute in a worker, open again, check that nobody was
 * faster, write. The old analysis stays readable with its results and its time; a hold is never lifted by a machine.
 */
import { createHash } from 'node:crypto'
import { v7 as uuidv7 } from 'uuid'
import {
  canonicalParameters,
  COMPUTE_VERSION,
  type Analysis,
  type AnalysisParameters,
  type Finding,
} from '../../compute/index.ts'
import { canonicalSha256 } from '../../domain/canonical-json.ts'
import { makeAuditEvent } from '../../ledger/canonical-event.ts'
import { appendAuditEvent } from '../../store/audit-store.ts'
import { insertFlags, moveFlags, type FlagRow, type FlagWrite } from '../../store/flag-store.ts'
import { loadAnalysis, supersedeAnalysis, type StaleSet, type Target } from '../../store/reanalysis-store.ts'
import { insertAnalyses, insertComparabilityKeys, insertResults, type ResultWrite } from '../../store/result-store.ts'
import type { Database } from '../../tenancy/database.ts'
import { withClinic, type ClinicTx } from '../../tenancy/with-clinic.ts'
import type { PreparationPool } from '../prepare-session/pool.ts'
import { hotColumns, measuresDocument } from '../results/measures-document.ts'
import { methodDocument } from '../results/method-document.ts'
import { findingFlags, speaksOf } from '../sessions/finding-flags.ts'
import { loadAnalysedSet, type AnalysedSet } from './load-analysed-set.ts'
import { directionOf, movedValues, replacedFacts, type MovedValue } from './replaced-results.ts'

export interface Reanalysis {
  readonly db: Database
  readonly pool: Pick<PreparationPool, 'reanalyse'>
  readonly clinicId: string
  readonly clock: () => Date
  readonly parameters: AnalysisParameters
  readonly dryRun: boolean
}

export interface ReanalysedDirection {
  readonly resultId: string
  readonly series: string
  readonly side: string
  readonly startedAt: string
  readonly moved: readonly MovedValue[]
}

export type ReanalysedSet =
  | { readonly outcome: 'replaced' | 'would_replace'; readonly directions: readonly ReanalysedDirection[] }
  | { readonly outcome: 'overtaken' }

export const paramsHashOf = (parameters: AnalysisParameters): Uint8Array<ArrayBuffer> =>
  new Uint8Array(createHash('sha256').update(canonicalParameters(parameters)).digest())

export const targetOf = (parameters: AnalysisParameters): Target => ({
  computeVersion: COMPUTE_VERSION,
  paramsHash: paramsHashOf(parameters),
})

export async function reanalyseSet(job: Reanalysis, stale: StaleSet): Promise<ReanalysedSet> {
  const set = await withClinic(job.db, job, (tx) => loadAnalysedSet(tx, stale))
  if (set === null) return { outcome: 'overtaken' }
  const protocol = set.protocol(job.parameters, set.gravity)
  const { bytes, header, recordingSha256: sha256 } = set
  const analysis = await job.pool.reanalyse({ bytes, header, sha256, protocol })
  const directions = set.results.flatMap((row) => {
    const direction = directionOf(analysis, row)
    if (direction === null) throw new RangeError(`set ${set.setId}: no direction for ${row.series}`)
    const { id: resultId, series, side, startedAt } = row
    return [{ resultId, series, side, startedAt, moved: movedValues(row, direction) }]
  })
  if (job.dryRun) return { outcome: 'would_replace', directions }
  const replaced = await withClinic(job.db, job, (tx) => replace(tx, job, stale, set, analysis))
  return replaced ? { outcome: 'replaced', directions } : { outcome: 'overtaken' }
}

async function replace(
  tx: ClinicTx,
  job: Reanalysis,
  stale: StaleSet,
  set: AnalysedSet,
  analysis: Analysis,
): Promise<boolean> {
  const at = job.clock()
  const old = await loadAnalysis(tx, stale.analysisId)
  if (old === null || !(await supersedeAnalysis(tx, stale.analysisId, at))) return false
  const analysisId = uuidv7()
  const { paramsHash, computeVersion } = targetOf(job.parameters)
  const writes = set.results.map((row) =>
    resultWrite(row, analysisId, analysis, Buffer.from(paramsHash).toString('hex')),
  )
  const oldFindings = old.findings as readonly Finding[]
  // What was found beside the analysis, at the push, is found still
  const kept = oldFindings.filter(
    ({ code, level }) => level === 'hold' && !analysis.findings.some((f) => f.code === code),
  )
  await insertComparabilityKeys(tx, writes.map(({ key }) => key)) // prettier-ignore
  await insertAnalyses(
    tx,
    [
      {
        id: analysisId,
        setId: set.setId,
        computeVersion,
        paramsHash,
        params: job.parameters,
        method: methodDocument({ analysis, gravity: set.gravity, recordingSha256: set.recordingSha256 }),
        findings: [...analysis.findings, ...kept],
      },
    ],
    at,
  )
  await insertResults(tx, writes.map(({ result }) => result), at) // prettier-ignore
  await replaceFlags(tx, stale, set, analysis, writes, oldFindings, at)
  await appendAuditEvent(tx, { ...eventOf(job, stale, analysisId), outcome: 'done' })
  return true
}

/**
 * What the old analysis noted and the new one does not is gone; everything else goes over with its resolution, holds always:
 * only a clinician lifts one.
 */
async function replaceFlags(
  tx: ClinicTx,
  stale: StaleSet,
  set: AnalysedSet,
  analysis: Analysis,
  writes: readonly { readonly from: string; readonly result: ResultWrite }[],
  oldFindings: readonly Finding[],
  at: Date,
): Promise<void> {
  const results = writes.map(({ result }) => result)
  const movements = new Map(writes.flatMap(({ from, result }) => [from, result.id].map((id) => [id, result.movement])))
  const isIn = (findings: readonly Finding[], { code, resultId }: FlagRow): boolean =>
    findings.some((finding) => finding.code === code && speaksOf(finding, movements.get(resultId ?? '')))
  const moves = writes.map(({ from, result }) => ({ from, to: result.id }))
  const carries = (flag: FlagRow): boolean =>
    flag.level === 'hold' || isIn(analysis.findings, flag) || !isIn(oldFindings, flag)
  const carried = await moveFlags(tx, moves, carries, () => uuidv7(), at)
  const { subjectId, sessionId } = stale
  const found = findingFlags(analysis.findings, { subjectId, sessionId, pointer: `#/sets/${set.ordinal}`, results })
  const isThere = (flag: FlagWrite): boolean =>
    carried.some(({ code, resultId }) => code === flag.code && resultId === flag.resultId)
  await insertFlags(tx, found.filter((flag) => !isThere(flag)), at) // prettier-ignore
}

function resultWrite(row: AnalysedSet['results'][number], analysisId: string, analysis: Analysis, paramsHash: string) {
  const direction = directionOf(analysis, row)
  if (direction === null) throw new RangeError(`no direction for ${row.series}`)
  const facts = replacedFacts(row.keyFacts, analysis, paramsHash)
  const hash = new Uint8Array(Buffer.from(canonicalSha256(facts), 'hex'))
  const result: ResultWrite = {
    id: uuidv7(),
    analysisId,
    setId: row.setId,
    sessionId: row.sessionId,
    sessionVersion: row.sessionVersion,
    subjectId: row.subjectId,
    series: row.series,
    movement: row.movement,
    side: row.side,
    origin: 'computed',
    testedAt: row.testedAt,
    comparabilityHash: hash,
    bodyMassKg: row.bodyMassKg,
    nCounted: direction.counted,
    ...hotColumns(direction),
    measures: measuresDocument(direction),
    repetitions: { counted: direction.counted, notCounted: direction.notCounted, list: direction.repetitions },
  }
  return { from: row.id, result, key: { hash, facts } }
}

/** An operator has no principal: the event names the role, and the program. */
function eventOf(job: Reanalysis, stale: StaleSet, analysisId: string) {
  return makeAuditEvent({
    clinicId: job.clinicId,
    id: uuidv7(),
    actorPrincipalId: null,
    actorRole: 'operator',
    client: 'limb-ledger-reanalyse',
    purpose: null,
    action: 'results.reanalyse',
    outcome: 'done',
    requestId: uuidv7(),
    subjectIds: [stale.subjectId],
    resourceIds: [`session/${stale.sessionId}`, `analysis/${analysisId}`],
    details: { computeVersion: COMPUTE_VERSION, replaces: stale.analysisId },
  })
}

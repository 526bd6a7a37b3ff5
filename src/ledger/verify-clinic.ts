/**
 * Verifies a clinic's log where it lies: the same check as an export gets offline, fed straight from the database, and
 * beside it what only the database can show: that every event still says what its leaf says, and none stands outside.
 */
import type { Pool } from 'pg'
import { LedgerAlarm } from './alarm.ts'
import { eventsShownOtherwise } from './beside-log.ts'
import { canonicalBytes } from './canonical-event.ts'
import { exportLines } from './export-log.ts'
import type { ClinicReader, LeafWithEvent } from './ledger-rows.ts'
import { eventsBehindSeal, lastHead } from './ledger-rows.ts'
import type { SealerDeps } from './sealer.ts'
import { checkAgainstWitness } from './sealer.ts'
import { readKeys } from './verify/signed-head.ts'
import type { FirstBad, VerificationReport, VerifyOptions } from './verify/verify-export.ts'
import { verifyExport } from './verify/verify-export.ts'
import { readWitness } from './verify/witness-file.ts'
import type { Witness } from './witness.ts'
import { witnessLine } from './witness.ts'

export type ClinicBad =
  | FirstBad
  | {
      epoch: number
      sequence: number
      notAfter: number
      reason: 'event_missing' | 'event_differs_from_leaf'
      detail: string
    }

export type ClinicVerification = Omit<VerificationReport, 'firstBad'> & {
  readonly firstBad: ClinicBad | null
  /** Events that were slipped in behind the seal (first 100): they have no leaf and never will. */
  readonly eventsWithoutLeaf: readonly string[]
  /** Events (first 100) that people are shown under other subjects than they name, or at a place that no head covers. */
  readonly eventsShownOtherwise: readonly string[]
}

const EVENTS_NAMED = 100

/**
 * Verifies a log that is being written to. The order matters: first what the witness knows; then the sealer's lock, so
 * that a head on its way from the witness into the database has arrived; then the log, which may know more by then,
 * never less. An alarm of the sealer does not stop this: the verification is there to say what it is about.
 */
export async function verifyLiveClinic(
  sealerPool: Pool,
  read: ClinicReader,
  clinicId: string,
  deps: SealerDeps,
  onProgress?: (entries: number) => void,
): Promise<ClinicVerification> {
  const keys = readKeys(JSON.stringify(deps.trustedKeys))
  const witness = await readWitness(witnessLines(deps.witness, clinicId), keys)
  try {
    await checkAgainstWitness(sealerPool, clinicId, { ...deps, waitForLockMs: deps.waitForLockMs ?? LOCK_WAIT_MS })
  } catch (error) {
    if (!(error instanceof LedgerAlarm)) throw error
  }
  const options = onProgress === undefined ? { keys, witness } : { keys, witness, onProgress }
  return verifyClinic(read, clinicId, deps.now(), options)
}

const LOCK_WAIT_MS = 10_000

async function* witnessLines(witness: Witness, clinicId: string): AsyncGenerator<string> {
  for await (const record of witness.all(clinicId)) yield witnessLine(record)
}

export async function verifyClinic(
  read: ClinicReader,
  clinicId: string,
  now: Date,
  options: VerifyOptions,
): Promise<ClinicVerification> {
  let eventBad: ClinicBad | null = null
  const compare = (leaf: LeafWithEvent, epoch: number): void => {
    if (eventBad !== null || (leaf.entry !== null && canonicalBytes(leaf.entry).equals(leaf.canonical))) return
    const reason = leaf.entry === null ? 'event_missing' : 'event_differs_from_leaf'
    const { sequence } = leaf
    eventBad = { epoch, sequence, notAfter: sequence, reason, detail: `event ${leaf.eventId}` }
  }
  const head = await read((sql) => lastHead(sql, clinicId))
  const report = await verifyExport(exportLines(read, clinicId, now, compare), options)
  const eventsWithoutLeaf =
    head === null ? [] : await read((sql) => eventsBehindSeal(sql, clinicId, head.sealedThrough, EVENTS_NAMED))
  const shownOtherwise = await read((sql) => eventsShownOtherwise(sql, clinicId, EVENTS_NAMED))
  const firstBad = earlier(report.firstBad, eventBad)
  const broken = firstBad !== null || eventsWithoutLeaf.length > 0 || shownOtherwise.length > 0
  const verdict = broken ? 'broken' : report.verdict
  return { ...report, verdict, firstBad, eventsWithoutLeaf, eventsShownOtherwise: shownOtherwise }
}

function earlier(a: ClinicBad | null, b: ClinicBad | null): ClinicBad | null {
  if (a === null || b === null) return a ?? b
  if (a.epoch !== b.epoch) return a.epoch < b.epoch ? a : b
  // Of one that is named and one that lies somewhere in a range, the named one says more.
  return b.sequence <= a.notAfter ? b : a
}

/**
 * The sealer: looks a few times a second which clinics have events that wait, and seals them. Between two looks lies the
 * window in which an event is in the log and not yet provable: the interval, plus the oldest transaction still running,
 * plus the seals of the look before, three at a time: a look ends with its slowest seal. With the default of 500 ms an
 * event is sealed after a quarter of a second on average and mostly within a second; docs promise no more than that.
 */
import { setTimeout as delay } from 'node:timers/promises'
import type { LedgerAccess } from '../ledger/access.ts'
import { LedgerAlarm } from '../ledger/alarm.ts'
import { alarmInWords } from '../ledger/check-clinics.ts'
import { sealClinic } from '../ledger/sealer.ts'

export interface SealerLog {
  readonly error: (facts: object, sentence: string) => void
}

export interface RunningSealer {
  /** Ends after the seal at hand and one more look, so that an orderly end leaves nothing open. */
  readonly stop: () => Promise<void>
}

const LONGEST_PAUSE_MS = 30_000
/** A seal waits for the witness's disk, and one clinic must not wait for another's; a connection is left for demands. */
const AT_ONCE = 3

export function sealPeriodically(ledger: LedgerAccess, intervalMs: number, log: SealerLog): RunningSealer {
  const stopping = new AbortController()
  const alarmed = new Map<string, string>()

  const run = async (): Promise<void> => {
    let failures = 0
    while (!stopping.signal.aborted) {
      failures = (await sealWaiting(ledger, alarmed, log)) ? 0 : failures + 1
      // A database that is away is asked less and less often, and says so each time.
      const pause = Math.min(intervalMs * 2 ** Math.min(failures, 10), Math.max(LONGEST_PAUSE_MS, intervalMs))
      await delay(pause, undefined, { signal: stopping.signal }).catch(() => undefined)
    }
    await sealWaiting(ledger, alarmed, log)
  }

  const ended = run()
  return {
    stop: async () => {
      stopping.abort()
      await ended
    },
  }
}

/** False: something went wrong that may pass. An alarm of one clinic does not: it stays unsealed, the others go on. */
async function sealWaiting(ledger: LedgerAccess, alarmed: Map<string, string>, log: SealerLog): Promise<boolean> {
  let clinicIds: string[]
  try {
    const { rows } = await ledger.sealerPool.query<{ id: string }>('select sealer_clinics_waiting() as id')
    clinicIds = rows.map(({ id }) => id)
  } catch (error) {
    log.error({ err: error }, 'the sealer does not reach the database')
    return false
  }
  let allWell = true
  const seal = async (clinicId: string): Promise<void> => {
    try {
      await sealClinic(ledger.sealerPool, clinicId, ledger.deps)
      alarmed.delete(clinicId)
    } catch (error) {
      if (error instanceof LedgerAlarm) {
        // Once, not twice a second.
        if (alarmed.get(clinicId) !== error.message) log.error({ clinicId, alarm: error.code }, alarmInWords(error))
        alarmed.set(clinicId, error.message)
      } else {
        log.error({ err: error, clinicId }, 'a seal did not come about; it is tried again')
        allWell = false
      }
    }
  }
  const waiting = clinicIds.values()
  const worker = async (): Promise<void> => {
    for (const clinicId of waiting) await seal(clinicId)
  }
  await Promise.all(Array.from({ length: AT_ONCE }, worker))
  return allWell
}

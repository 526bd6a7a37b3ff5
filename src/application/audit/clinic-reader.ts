import type { LedgerAccess } from '../../ledger/access.ts'
import { LedgerAlarm } from '../../ledger/alarm.ts'
import type { ClinicReader } from '../../ledger/ledger-rows.ts'
import { WitnessUnavailable } from '../../ledger/witness.ts'
import { AppError } from '../../domain/errors.ts'
import { ledgerSql } from '../../store/ledger-sql.ts'
import { asDatabaseError, withClinic } from '../../tenancy/with-clinic.ts'
import type { Context } from '../context.ts'

/** The ledger reads page by page, each in a short transaction that sees this actor's clinic. */
export const clinicReader = (ctx: Context): ClinicReader => {
  return (work) => withClinic(ctx.db, ctx.actor, (tx) => work(ledgerSql(tx)))
}

export function requireLedger({ ledger }: Context): LedgerAccess {
  if (ledger === null) throw new AppError('sealing_unavailable')
  return ledger
}

/** An alarm is for a person: which clinic's log, and from which entry on. An outage of database or witness passes. */
export function asLedgerError(error: unknown): unknown {
  if (error instanceof WitnessUnavailable) return new AppError('witness_unavailable', { retryAfterSeconds: 5, internal: error.message, cause: error }) // prettier-ignore
  if (!(error instanceof LedgerAlarm)) return asDatabaseError(error)
  const { code, epoch, sequence } = error
  const detail = `${code}, epoch ${epoch}, first affected sequence ${sequence}. Nothing more is sealed until a person has looked.`
  return new AppError('ledger_alarm', { detail, extra: { alarm: { code, epoch, sequence } }, internal: error.message, cause: error }) // prettier-ignore
}

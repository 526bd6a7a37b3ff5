import type { LedgerAccess } from '../../ledger/access.ts'
import { LedgerAlarm } from '../../ledger/alarm.ts'
import type { ClinicReader } from '../../ledger/ledger-rows.ts'
import { AppError } from '../../domain/errors.ts'
import { ledgerSql } from '../../store/ledger-sql.ts'
import { withClinic } from '../../tenancy/with-clinic.ts'
import type { Context } from '../context.ts'

/** The ledger reads page by page, each in a short transaction that sees this actor's clinic. */
export const clinicReader = (ctx: Context): ClinicReader => {
  return (work) => withClinic(ctx.db, ctx.actor, (tx) => work(ledgerSql(tx)))
}

export function requireLedger({ ledger }: Context): LedgerAccess {
  if (ledger === null) throw new AppError('sealing_unavailable')
  return ledger
}

/** An alarm is for a person: which clinic's log, and from which entry on. */
export function asAlarm(error: unknown): unknown {
  if (!(error instanceof LedgerAlarm)) return error
  const { code, epoch, sequence } = error
  const detail = `${code}, epoch ${epoch}, first affected sequence ${sequence}. Nothing more is sealed until a person has looked.`
  return new AppError('ledger_alarm', { detail, extra: { alarm: { code, epoch, sequence } }, internal: error.message, cause: error }) // prettier-ignore
}

import type { ClinicTx } from '../tenancy/with-clinic.ts'

/** The ledger's own statements ($1, $2 …, no value inside their text) on the transaction of a clinic. */
export function ledgerSql(tx: ClinicTx): {
  query<Row extends object>(text: string, values?: unknown[]): Promise<{ rows: Row[] }>
} {
  return { query: async (text, values = []) => ({ rows: await tx.$queryRawUnsafe(text, ...values) }) }
}

/** The check at start: database and witness agree about every clinic that either of them knows. */
import { LedgerAlarm } from './alarm.ts'
import type { LedgerAccess } from './access.ts'
import { checkAgainstWitness } from './sealer.ts'

/** Throws the first LedgerAlarm. A clinic that another sealer holds is checked by that one. */
export async function checkClinics({ sealerPool, deps }: LedgerAccess): Promise<void> {
  const { rows } = await sealerPool.query<{ id: string }>('select sealer_clinic_ids() as id')
  const known = new Set(rows.map(({ id }) => id))
  for (const clinicId of await deps.witness.clinicIds()) {
    if (known.has(clinicId)) continue
    const last = await deps.witness.last(clinicId)
    if (last === null) continue
    const place = { clinicId, epoch: last.head.epoch, sequence: 1 }
    throw new LedgerAlarm('database_behind_witness', place, 'the database does not know this clinic at all')
  }
  for (const clinicId of known) await checkAgainstWitness(sealerPool, clinicId, deps)
}

/** Several sentences for the person who starts the service and now has to decide. */
export function alarmInWords(alarm: LedgerAlarm): string {
  const what = WORDS[alarm.code]
  return (
    `LEDGER ALARM. ${what} Clinic ${alarm.clinicId}, epoch ${alarm.epoch}, first affected sequence ${alarm.sequence}. ` +
    `(${alarm.message}.) Nothing is sealed or shown until a person has looked. If the database was restored from a ` +
    'backup or moved on purpose, declare it: limb-ledger open-epoch --help. If not, somebody changed it: keep the ' +
    'database, the witness and the newest export as they are, and verify the export against the witness.'
  )
}

const WORDS: Readonly<Record<LedgerAlarm['code'], string>> = {
  database_behind_witness: 'The database holds less of the audit log than the witness has seen.',
  witness_behind_database:
    'The witness holds less than the database: it was changed, lost, or is not the one used before.',
  head_differs_from_witness: 'The database holds another tree head than the witness has seen.',
  leaves_differ_from_witness: 'An entry of the audit log is not the one that the witness has seen.',
  leaves_not_gapless: 'An entry of the audit log is missing.',
  head_signature_unknown: 'A tree head is not signed by any of the keys in SIGNING_KEY_FILE.',
  frontier_differs_from_head: 'What the database keeps to go on sealing does not add up to its last tree head.',
}

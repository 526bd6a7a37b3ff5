/** The ledger found something that must not be. Nothing more is sealed for that clinic until a person has looked. */
export type AlarmCode =
  | 'database_behind_witness'
  | 'witness_behind_database'
  | 'head_differs_from_witness'
  | 'leaves_differ_from_witness'
  | 'leaves_not_gapless'
  | 'head_signature_unknown'
  | 'frontier_differs_from_head'

export type AlarmPlace = { readonly clinicId: string; readonly epoch: number; readonly sequence: number }

export class LedgerAlarm extends Error {
  override readonly name = 'LedgerAlarm'
  readonly code: AlarmCode
  readonly clinicId: string
  readonly epoch: number
  /** The first sequence that is missing or can no longer be shown to be what was witnessed. */
  readonly sequence: number

  constructor(code: AlarmCode, { clinicId, epoch, sequence }: AlarmPlace, detail: string) {
    super(`${code}: clinic ${clinicId}, epoch ${epoch}, first affected sequence ${sequence}: ${detail}`)
    this.code = code
    this.clinicId = clinicId
    this.epoch = epoch
    this.sequence = sequence
  }
}

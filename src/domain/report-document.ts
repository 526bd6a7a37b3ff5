import { z } from 'zod'
import * as lists from './code-lists.ts'
import { shortText, wordKey } from './shapes.ts'

const decided = {
  criteriaSet: z
    .strictObject({ key: wordKey, version: z.int().min(1).optional().describe('The newest if absent') })
    .optional()
    .describe('The one that the episode names if absent'),
  on: z.iso.date().describe('Date evaluated, not after today'),
  decision: z.enum(lists.codesOf(lists.REPORT_DECISIONS)),
  note: shortText(4000).describe('Stays in the clinic'),
}

/** A clinician's decision beside an evaluation; signing freezes both. */
export const reportDocument = z.strictObject(decided).meta({ id: 'ReportDocument' })

/** The next version of a report takes the place of the one before, and says why. */
export const reportVersionDocument = z
  .strictObject({
    ...decided,
    reason: shortText(2000).describe('Why it takes the place of the version before; stays in the clinic'),
  }) // prettier-ignore
  .meta({ id: 'ReportVersionDocument' })

export const reportWithdrawalDocument = z
  .strictObject({ reason: shortText(2000).describe('Stays in the clinic') })
  .meta({ id: 'ReportWithdrawalDocument' })

export type ReportDocument = z.output<typeof reportDocument>
export type ReportVersionDocument = z.output<typeof reportVersionDocument>
export type ReportDecision = ReportDocument['decision']
export type ConsentLevel = (typeof lists.CONSENT_LEVELS)[number]['code']
export type ReportCurrency = (typeof lists.REPORT_CURRENCIES)[number]['code']

/** Erasure of a subject, and the legal hold that forbids it. */
import { z } from 'zod'
import { shortText } from './shapes.ts'

/** Why: the grounds on which a person's data must go (after Regulation (EU) 2016/679, article 17, paragraph 1). */
export const ERASURE_GROUNDS = [
  'subject_request',
  'consent_withdrawn',
  'no_longer_necessary',
  'unlawful_processing',
  'legal_obligation',
] as const

export const erasureDocument = z
  .strictObject({
    ground: z.enum(ERASURE_GROUNDS),
    /** Said again in the body, so that an id in an address is not enough to erase the wrong person. */
    subjectId: z.uuid().describe('The id of the subject once more'),
  })
  .meta({ id: 'ErasureRequest' })

export type ErasureDocument = z.infer<typeof erasureDocument>

export const legalHoldDocument = z
  .strictObject({ reason: shortText(2000).describe('Which proceeding or duty, and until when it is expected to last') })
  .meta({ id: 'LegalHoldRequest' })

export type LegalHoldDocument = z.infer<typeof legalHoldDocument>

export const legalHoldReleaseDocument = z.strictObject({ reason: shortText(2000) }).meta({ id: 'LegalHoldRelease' })

export type LegalHoldReleaseDocument = z.infer<typeof legalHoldReleaseDocument>

import { z } from 'zod'
import * as lists from './code-lists.ts'
import { fail } from './faults.ts'
import { recordReference } from './session-document.ts'
import { shortText } from './shapes.ts'

/** A code word of the team's own: the audit log holds it as it is, so it is no sentence and no name. */
export const PURPOSE = /^[a-z][a-z0-9]*([._-][a-z0-9]+)*$/

/** What a subject agreed to show a team, as it stands on the paper that was signed. */
export const consentDocument = z
  .strictObject({
    team: z.strictObject({ id: z.uuid() }),
    level: z.enum(lists.codesOf(lists.CONSENT_LEVELS)),
    teamReference: shortText(64).describe('By which the team knows the person'),
    displayName: shortText(100).describe('Agreed with the person'),
    purposes: z
      .array(z.string().max(64).regex(PURPOSE))
      .min(1)
      .max(10)
      .describe('Code words, e.g. availability-planning'),
    from: z.iso.date(),
    until: z.iso.date().describe('The last day'),
    episode: recordReference.optional().describe('The one agreed to; every episode of the subject if absent'),
    guardian: shortText(200).optional().describe('Who agreed for a minor'),
    documentReference: shortText(200).optional().describe('Where the signed paper is'),
  })
  .superRefine((consent, context) => {
    if (consent.until < consent.from) fail(context, ['until'], 'out_of_order', 'The consent ends before it begins.')
    if (new Set(consent.purposes).size !== consent.purposes.length)
      fail(context, ['purposes'], 'duplicate', 'Each purpose is named once.')
  })
  .meta({ id: 'ConsentDocument' })

export const revocationDocument = z.strictObject({ reason: shortText(2000) }).meta({ id: 'RevocationDocument' })

export type ConsentDocument = z.output<typeof consentDocument>

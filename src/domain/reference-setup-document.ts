import { z } from 'zod'
import { recordReference } from './session-document.ts'
import { shortText, wordKey } from './shapes.ts'

/** Pins the setup of a session as what later setups of that limb on that machine are held against: a deliberate act. */
export const referenceSetupDocument = z
  .strictObject({ session: recordReference, setup: wordKey, reason: shortText(2000) })
  .meta({ id: 'ReferenceSetupDocument' })

export type ReferenceSetupDocument = z.output<typeof referenceSetupDocument>

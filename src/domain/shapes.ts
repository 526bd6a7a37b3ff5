/** Small shapes that several documents share. */
import { z } from 'zod'

export const shortText = (max: number): z.ZodString => z.string().min(1).max(max)

export const systemAndValue = z.strictObject({ system: shortText(200), value: shortText(200) })

/** A key in a clinic's own vocabulary: "backrestAngle". */
export const camelKey = z.string().regex(/^[a-z][A-Za-z0-9]{0,63}$/)

/** A key of an attachment, a set or a criteria set: "shin-pad". */
export const wordKey = z.string().regex(/^[A-Za-z0-9][A-Za-z0-9_.-]{0,63}$/)

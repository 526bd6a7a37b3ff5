import { z } from 'zod'

export const problemSchema = z
  .looseObject({
    type: z.string(),
    title: z.string(),
    status: z.number().int(),
    code: z.string(),
    detail: z.string(),
    requestId: z.string(),
    retry: z.enum(['never', 'after_correction', 'after_delay', 'same_request']),
    errors: z
      .array(
        z.strictObject({
          pointer: z.string().describe('JSON pointer to the faulty field, "#/sets/2/recording/channels/0/unit"'),
          code: z.string(),
          message: z.string(),
          received: z.string().optional(),
          suggestion: z.string().optional(),
          accepted: z.array(z.string()).optional(),
        }),
      )
      .optional(),
  })
  .meta({ id: 'Problem', description: 'RFC 9457 problem document' })

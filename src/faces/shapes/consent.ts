import { z } from 'zod'
import * as lists from '../../domain/code-lists.ts'
import { day, id, instant } from './common.ts'

export const consent = z
  .strictObject({
    id,
    subjectId: id,
    team: z.strictObject({ id }),
    level: z.enum(lists.codesOf(lists.CONSENT_LEVELS)),
    teamReference: z.string(),
    displayName: z.string(),
    purposes: z.array(z.string()),
    from: day,
    until: day,
    episodeId: id.optional(),
    guardian: z.string().optional(),
    documentReference: z.string().optional(),
    recordedBy: id,
    recordedAt: instant,
    state: z.enum(['in_force', 'not_begun', 'ended', 'revoked']),
    revocation: z.strictObject({ at: instant, reason: z.string() }).nullable(),
  })
  .meta({ id: 'Consent' })

export const team = z
  .strictObject({ id, name: z.string(), invitedBy: id, invitedAt: instant })
  .meta({ id: 'InvitedTeam' })

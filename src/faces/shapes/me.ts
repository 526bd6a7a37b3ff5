import { z } from 'zod'
import { CLINIC_ROLES } from '../../tenancy/actor.ts'
import { id } from './common.ts'

const who = { principalId: id, displayName: z.string(), client: z.string().nullable() }

export const clinicMember = z
  .strictObject({
    ...who,
    clinic: z.strictObject({ id, name: z.string(), timeZone: z.string().describe('IANA time zone') }),
    role: z.enum(CLINIC_ROLES),
    licensed: z.boolean().describe('A licence is on record: may sign a decision'),
    mayDo: z.array(z.string()).describe('The actions this role may do'),
  })
  .meta({ id: 'ClinicMember' })

export const teamReader = z
  .strictObject({ ...who, team: z.strictObject({ id, name: z.string() }), role: z.literal('reader') })
  .meta({ id: 'TeamReader' })

import { STARTER_DYNAMOMETER, STARTER_NOTES } from '../../domain/starter-dynamometer.ts'
import { authorise } from '../../tenancy/policy.ts'
import type { Context } from '../context.ts'

/** The same for everyone and about no one, so reading it is no event of the audit log. */
export function readStarterDynamometer(ctx: Context) {
  authorise(ctx.actor, 'dynamometers.read')
  return { document: STARTER_DYNAMOMETER, notes: [...STARTER_NOTES] }
}

import { loadDescription } from '../../store/dynamometer-store.ts'
import type { Context } from '../context.ts'
import { perform } from '../perform.ts'
import { orNotFound } from '../shared/existing.ts'
import { representDynamometer, type DynamometerRepresentation } from './represent-dynamometer.ts'

/** The newest description, or the one of a version. */
export async function getDynamometer(
  ctx: Context,
  input: { dynamometerId: string; version: number | null },
): Promise<DynamometerRepresentation> {
  return perform(ctx, 'dynamometers.read', async (tx, trace) => {
    trace.resource('dynamometer', input.dynamometerId)
    return representDynamometer(orNotFound(await loadDescription(tx, input.dynamometerId, input.version)))
  })
}

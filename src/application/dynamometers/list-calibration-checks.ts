import { loadCalibrationChecks, loadDescription } from '../../store/dynamometer-store.ts'
import type { Context } from '../context.ts'
import { perform } from '../perform.ts'
import { orNotFound } from '../shared/existing.ts'
import { representCalibration, type CalibrationRepresentation } from './represent-dynamometer.ts'

/** The newest hundred, newest first. */
export async function listCalibrationChecks(
  ctx: Context,
  input: { dynamometerId: string },
): Promise<{ items: CalibrationRepresentation[] }> {
  return perform(ctx, 'calibration-checks.list', async (tx, trace) => {
    orNotFound(await loadDescription(tx, input.dynamometerId, null))
    trace.resource('dynamometer', input.dynamometerId)
    const rows = await loadCalibrationChecks(tx, input.dynamometerId, 100)
    return { items: rows.map(representCalibration) }
  })
}

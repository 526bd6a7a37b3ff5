import { v7 as uuidv7 } from 'uuid'
import type { CalibrationDocument } from '../../domain/calibration-document.ts'
import { documentError } from '../../domain/errors.ts'
import type { LazyDocument } from '../../domain/parsed.ts'
import { futureFault } from '../../domain/session-rules.ts'
import { insertCalibrationCheck, loadDescription } from '../../store/dynamometer-store.ts'
import type { Context } from '../context.ts'
import { createOnce, type Created, type OnceKey } from '../create-once.ts'
import { orNotFound } from '../shared/existing.ts'
import { representCalibration } from './represent-dynamometer.ts'

/** Standard gravity, CGPM 1901. */
const STANDARD_GRAVITY_M_S2 = 9.80665

export async function recordCalibrationCheck(
  ctx: Context,
  input: { dynamometerId: string; once: OnceKey; document: LazyDocument<CalibrationDocument> },
): Promise<Created> {
  return createOnce(ctx, 'calibration-checks.create', input.once, async (tx, trace) => {
    orNotFound(await loadDescription(tx, input.dynamometerId, null))
    const { sent, value } = input.document()
    const ahead = futureFault(value.checkedAt, ['checkedAt'], ctx.now)
    if (ahead !== null) throw documentError([ahead])
    const write = {
      id: uuidv7({ msecs: ctx.now.getTime() }),
      dynamometerId: input.dynamometerId,
      checkedAt: new Date(value.checkedAt),
      expectedTorqueNm: value.mass.canonicalValue * STANDARD_GRAVITY_M_S2 * value.armLength.canonicalValue,
      readTorqueNm: value.readTorque.canonicalValue,
      nextDueOn: value.nextDueOn,
      document: sent,
      recordedBy: ctx.actor.principalId,
      recordedAt: ctx.now,
    }
    await insertCalibrationCheck(tx, write)
    trace.resource('dynamometer', input.dynamometerId)
    trace.resource('calibration-check', write.id)
    const body = representCalibration({ ...write, nextDueOn: write.nextDueOn ?? null })
    return { status: 201, headers: { Location: `/v1/dynamometers/${input.dynamometerId}/calibration-checks` }, body }
  })
}

import { v7 as uuidv7 } from 'uuid'
import type { DynamometerDescription } from '../../domain/dynamometer-document.ts'
import { AppError } from '../../domain/errors.ts'
import type { LazyDocument } from '../../domain/parsed.ts'
import { findDynamometerId, insertDynamometer, loadDescription } from '../../store/dynamometer-store.ts'
import type { Context } from '../context.ts'
import { createOnce, type Created, type OnceKey } from '../create-once.ts'
import { differingPointers } from '../shared/differences.ts'
import { docHashOf, sameHash } from '../shared/doc-hash.ts'
import { orNotFound } from '../shared/existing.ts'
import { etagOf } from '../shared/versions.ts'
import { representDynamometer } from './represent-dynamometer.ts'

export async function createDynamometer(
  ctx: Context,
  input: { once: OnceKey; document: LazyDocument<DynamometerDescription> },
): Promise<Created> {
  return createOnce(ctx, 'dynamometers.create', input.once, async (tx, trace) => {
    const document = input.document()
    const { externalId } = document.value
    const docHash = docHashOf(document.sent)
    const takenId = externalId === undefined ? null : await findDynamometerId(tx, { externalId })
    if (takenId !== null) {
      const row = orNotFound(await loadDescription(tx, takenId, null))
      if (!sameHash(row.docHash, docHash)) {
        throw new AppError('external_id_conflict', { extra: { id: takenId, differs: differingPointers(row.document, document.sent) } }) // prettier-ignore
      }
      return { status: 200, headers: located(row.id, row.version), body: representDynamometer(row) }
    }
    const write = {
      dynamometerId: uuidv7({ msecs: ctx.now.getTime() }),
      version: 1,
      externalId,
      document: document.sent,
      docHash,
      recordedBy: ctx.actor.principalId,
      recordedAt: ctx.now,
    }
    await insertDynamometer(tx, write)
    trace.resource('dynamometer', write.dynamometerId)
    return {
      status: 201,
      headers: located(write.dynamometerId, 1),
      body: representDynamometer({ ...write, id: write.dynamometerId }),
    }
  })
}

const located = (id: string, version: number) => ({ Location: `/v1/dynamometers/${id}`, ETag: etagOf(version) })

import type { DynamometerDescription } from '../../domain/dynamometer-document.ts'
import { AppError } from '../../domain/errors.ts'
import type { LazyDocument } from '../../domain/parsed.ts'
import { loadDescription, lockDynamometerVersion, reviseDynamometer } from '../../store/dynamometer-store.ts'
import type { Context } from '../context.ts'
import { perform } from '../perform.ts'
import { differingPointers } from '../shared/differences.ts'
import { docHashOf } from '../shared/doc-hash.ts'
import { orNotFound } from '../shared/existing.ts'
import { requireVersion } from '../shared/versions.ts'
import { representDynamometer, type DynamometerRepresentation } from './represent-dynamometer.ts'

/** A new version of the description; setups recorded under an earlier one keep theirs. */
export async function editDynamometer(
  ctx: Context,
  input: { dynamometerId: string; ifMatch: string | undefined; document: LazyDocument<DynamometerDescription> },
): Promise<DynamometerRepresentation> {
  return perform(ctx, 'dynamometers.edit', async (tx, trace) => {
    const version = orNotFound(await lockDynamometerVersion(tx, input.dynamometerId))
    trace.resource('dynamometer', input.dynamometerId)
    requireVersion(input.ifMatch, version)
    const { sent, value } = input.document()
    const before = orNotFound(await loadDescription(tx, input.dynamometerId, version)).document
    if (differingPointers((before as { externalId?: unknown }).externalId, value.externalId).length > 0) {
      throw new AppError('invalid_document', {
        faults: [{ pointer: '#/externalId', code: 'not_editable', message: 'A dynamometer keeps its external id.' }],
      })
    }
    const write = {
      dynamometerId: input.dynamometerId,
      version: version + 1,
      externalId: value.externalId,
      document: sent,
      docHash: docHashOf(sent),
      recordedBy: ctx.actor.principalId,
      recordedAt: ctx.now,
    }
    await reviseDynamometer(tx, write)
    return representDynamometer({ ...write, id: write.dynamometerId })
  })
}

import type { CriteriaSet } from '../../compute/index.ts'
import type { CriteriaSetDocument } from '../../domain/criteria-set-document.ts'
import { AppError } from '../../domain/errors.ts'
import type { LazyDocument } from '../../domain/parsed.ts'
import { insertCriteriaSet, lockCriteriaSetKey, newestCriteriaSet } from '../../store/criteria-store.ts'
import type { Context } from '../context.ts'
import { createOnce, type Created, type OnceKey } from '../create-once.ts'
import { docHashOf, sameHash } from '../shared/doc-hash.ts'
import { isPublished, representCriteriaSet } from './represent-criteria-set.ts'

/** A key of nobody's makes version 1, one of the clinic's own the next version; the same words again make nothing. */
export async function addCriteriaSet(
  ctx: Context,
  input: { once: OnceKey; document: LazyDocument<CriteriaSetDocument> },
): Promise<Created> {
  return createOnce(ctx, 'criteria-sets.create', input.once, async (tx, trace) => {
    const { sent, value } = input.document()
    if (isPublished(value.key)) {
      throw new AppError('identifier_conflict', {
        detail: 'A published set has this key. Choose another one for a set of your own.',
        faults: [{ pointer: '#/key', code: 'identifier_conflict', message: 'A published set has this key.' }],
      })
    }
    const docHash = docHashOf(sent)
    await lockCriteriaSetKey(tx, value.key)
    const newest = await newestCriteriaSet(tx, value.key)
    if (newest !== null && newest.retiredAt === null && sameHash(newest.docHash, docHash)) {
      return answer(200, newest.document as CriteriaSet)
    }
    const { key, ...content } = value
    const set = { key, version: (newest?.version ?? 0) + 1, ...content } as CriteriaSet
    await insertCriteriaSet(tx, {
      key,
      version: set.version,
      document: set,
      docHash,
      recordedBy: ctx.actor.principalId,
      recordedAt: ctx.now,
    })
    trace.resource('criteria-set', `${key}@${set.version}`)
    return answer(201, set)
  })
}

const answer = (status: 200 | 201, set: CriteriaSet) => ({
  status,
  headers: { Location: `/v1/criteria-sets/${set.key}?version=${set.version}` },
  body: representCriteriaSet(set),
})

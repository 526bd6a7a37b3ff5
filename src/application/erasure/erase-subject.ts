import type { ErasureDocument } from '../../domain/erasure-document.ts'
import { AppError } from '../../domain/errors.ts'
import type { LazyDocument } from '../../domain/parsed.ts'
import { countTeamReads } from '../../store/audit-store.ts'
import { eraseSubject as erase, listLegalHolds } from '../../store/erasure-store.ts'
import { lockSubjectVersion } from '../../store/subject-store.ts'
import type { Context } from '../context.ts'
import { createOnce, type Created, type OnceKey } from '../create-once.ts'
import { orNotFound } from '../shared/existing.ts'

/**
 * Removes what is kept about one person and destroys the key of the texts about them in the ledger, in one transaction.
 * The ledger itself keeps every entry: ids and code words, and proofs that still verify.
 */
export async function eraseSubject(
  ctx: Context,
  input: { subjectId: string; once: OnceKey; document: LazyDocument<ErasureDocument> },
): Promise<Created> {
  return createOnce(ctx, 'subjects.erase', input.once, async (tx, trace) => {
    const { subjectId } = input
    // Locked: a legal hold placed at this moment comes before or finds nobody.
    orNotFound(await lockSubjectVersion(tx, subjectId))
    trace.subject(subjectId)
    const { ground, subjectId: repeated } = input.document().value
    if (repeated.toLowerCase() !== subjectId.toLowerCase()) throw otherSubject()
    const holds = (await listLegalHolds(tx, subjectId)).filter((hold) => hold.releasedAt === null)
    if (holds.length > 0) throw new AppError('legal_hold', { extra: { legalHolds: holds.map(({ id }) => id) } })

    const teamReads = await countTeamReads(tx, subjectId)
    const outcome = await erase(tx, { subjectId, ground, erasedBy: ctx.actor.principalId, erasedAt: ctx.now })
    if (outcome.outcome === 'not_found') throw new AppError('not_found')
    trace.detail('ground', ground)
    for (const [kind, count] of Object.entries(outcome.rows)) trace.detail(kind, count)
    const body = {
      subjectId,
      erasedAt: ctx.now.toISOString(),
      ground,
      erased: outcome.rows,
      kept: KEPT,
      cannotBeRecalled: { teamReads, statement: CANNOT_BE_RECALLED },
      backups: BACKUPS,
    }
    return { status: 201, headers: { Location: `/v1/subjects/${subjectId}/disclosures` }, body }
  })
}

const otherSubject = (): AppError =>
  new AppError('invalid_document', {
    faults: [{ pointer: '#/subjectId', code: 'not_this_subject', message: 'Not the subject that the address names.' }],
  })

const KEPT = [
  'The entries of the audit ledger: who did what and when, by ids and code words. Texts about the person in them can no longer be read; the proofs still verify.',
  'That this subject was erased, when, by whom and on what ground.',
  'That a report was there for a team and is gone, by ids that name nobody, so that the team learns of it.',
  'Settings of the machine at the time of tests, which name nobody and belong to no result any more.',
  'Measurement errors of the clinic, which are statistics over several people.',
]

const CANNOT_BE_RECALLED =
  'What teams, integrations or members have read or downloaded before is in their hands and cannot be recalled; ask them to erase it. ' +
  'The accounting of disclosures of this subject still says who they are.'

const BACKUPS =
  'Backups of the database hold these data, and the wrapped key, until they are overwritten. After a restore this erasure must be done again.'

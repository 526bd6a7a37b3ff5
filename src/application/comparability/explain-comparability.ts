/** May one result be set against another? Measure by measure, with every reason; across the limbs with mirrored setups. */
import { AppError } from '../../domain/errors.ts'
import { loadFlags, type FlagRow } from '../../store/flag-store.ts'
import { loadResult, type JudgedResultRow } from '../../store/result-store.ts'
import type { ClinicTx } from '../../tenancy/with-clinic.ts'
import type { Context } from '../context.ts'
import { compareSharedMeasures } from '../judgement/compare-results.ts'
import { loadRulesInForce } from '../judgement/rules-in-force.ts'
import { representReasons } from '../judgement/represent-comparability.ts'
import { perform, type Trace } from '../perform.ts'
import { representResult } from '../results/represent-result.ts'
import { referenceNotFound } from '../shared/references.ts'

export async function explainComparability(ctx: Context, input: { a: string; b: string }) {
  const { before, now, flags, rules } = await perform(ctx, 'comparability.read', async (tx, trace) => {
    const a = await resolveResult(tx, trace, input.a, '#/query/a')
    const b = await resolveResult(tx, trace, input.b, '#/query/b')
    if (a.subjectId !== b.subjectId) throw ofTwoSubjects()
    const [before, now] = b.testedAt < a.testedAt ? [b, a] : [a, b]
    return {
      before,
      now,
      flags: await loadFlags(tx, { subjectId: a.subjectId }, ctx.now),
      rules: await loadRulesInForce(tx, ctx.now),
    }
  })
  return {
    before: compared(before, flags, ctx.now),
    now: compared(now, flags, ctx.now),
    acrossLimbs: before.side !== now.side,
    measures: compareSharedMeasures(before, now, rules).map(({ measure, verdict, reasons }) => ({
      measure,
      verdict,
      reasons: representReasons(reasons),
    })),
  }
}

async function resolveResult(tx: ClinicTx, trace: Trace, id: string, pointer: string): Promise<JudgedResultRow> {
  const row = await loadResult(tx, id)
  if (row === null) throw referenceNotFound(pointer)
  trace.subject(row.subjectId)
  trace.resource('result', row.id)
  return row
}

function ofTwoSubjects(): AppError {
  const message = 'The two results are of two subjects.'
  return new AppError('invalid_query', {
    detail: message,
    faults: [{ pointer: '#/query/b', code: 'other_subject', message }],
  })
}

/** Which test it is, and whether it stands. */
function compared(row: JudgedResultRow, flags: readonly FlagRow[], knownAt: Date) {
  const { id, measures: _, repetitions: __, method: ___, ...test } = representResult(row, flags, knownAt)
  return { resultId: id, sessionId: row.sessionId, startedAt: row.startedAt, ...test }
}

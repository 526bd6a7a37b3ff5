import { v7 as uuidv7 } from 'uuid'
import { canonicalUnitOf } from '../../compute/index.ts'
import { FUNCTIONAL_TEST_BY_CODE } from '../../domain/code-lists.ts'
import type { FunctionalResultDocument } from '../../domain/session-document.ts'
import type { FunctionalResultWrite } from '../../store/session-store.ts'
import type { PreparedSession } from '../prepare-session/prepared-session.ts'

/** Hop tests, times, totals, observations: the best trial counts, every trial is kept. */
export function functionalWrites(prepared: PreparedSession, subjectId: string): FunctionalResultWrite[] {
  const sent = (prepared.pushed['functionalResults'] ?? []) as readonly unknown[]
  return prepared.document.functionalResults.map((result, index) => {
    const test = FUNCTIONAL_TEST_BY_CODE.get(result.test)
    if (test === undefined) throw new RangeError(`unknown functional test ${result.test}`)
    return {
      id: uuidv7(),
      subjectId,
      key: result.key,
      test: result.test,
      side: result.side ?? null,
      value: valueOf(result, test.betterWhen),
      unit: test.kind === null ? '1' : canonicalUnitOf(test.kind),
      formVersion: result.formVersion ?? null,
      observation: result.observation ?? null,
      document: sent[index],
      performedAt: new Date(result.performedAt ?? prepared.document.startedAt),
    }
  })
}

/** In the canonical unit of the test. */
function valueOf(result: FunctionalResultDocument, betterWhen: 'higher' | 'lower' | 'none'): number | null {
  const all = [...(result.trials ?? []), ...(result.total === undefined ? [] : [result.total])]
  if (all.length === 0) return null
  const values = all.map((trial) => trial.canonicalValue)
  return betterWhen === 'lower' ? Math.min(...values) : Math.max(...values)
}

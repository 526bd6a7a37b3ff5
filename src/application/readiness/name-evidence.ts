/** What a reading of readiness says of itself in the log. */
import type { CriteriaSet } from '../../compute/index.ts'
import type { Trace } from '../perform.ts'
import type { ReadinessRecord } from './collect-evidence.ts'

export function nameRecord(trace: Trace, { subject, episode }: ReadinessRecord): void {
  trace.subject(subject.id)
  if (episode !== null) trace.resource('episode', episode.id)
}

export const nameSet = (trace: Trace, { key, version }: CriteriaSet): void =>
  trace.resource('criteria-set', `${key}@${version}`)

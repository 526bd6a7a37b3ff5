import type { FieldFault } from '../../domain/errors.ts'
import { jsonPointer } from '../../domain/json-pointer.ts'
import type { JsonPath } from '../../domain/json-pointer.ts'
import { SESSION_LIMITS } from '../../domain/session-document.ts'

/** `at`: where the session stands in what was sent. */
export function tooManySamples(at: JsonPath): FieldFault {
  const message = `The recordings of one document have at most ${SESSION_LIMITS.samplesPerDocument} numbers.`
  return { pointer: jsonPointer([...at, 'sets']), code: 'too_many', message }
}

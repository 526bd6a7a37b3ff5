/** What was refused of an operation and no field has written down: one event, since it is one request. */
import type { ExecutionResult } from 'graphql'
import { isRecorded } from '../../application/perform.ts'
import type { Origin } from '../../server/authenticate.ts'
import { recordOutcome } from '../audited.ts'
import type { Asker, FaceDeps } from '../context.ts'
import { knownErrors } from './errors.ts'

export async function recordRefused(
  execution: Pick<ExecutionResult, 'errors'>,
  request: Asker & Origin,
  deps: FaceDeps,
): Promise<void> {
  const unwritten = knownErrors(execution).find((error) => !isRecorded(error))
  if (unwritten !== undefined) await recordOutcome(request, deps, 'graphql.operation', unwritten)
}

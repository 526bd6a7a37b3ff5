/**
 * A subscription, run: for each announcement the asker is looked up anew, so that what is shown is shown to who they are
 * now, with the policy, the transaction and the audit event of a read that is asked for in this moment.
 */
import {
  createSourceEventStream,
  execute,
  type GraphQLError,
  type ExecutionArgs,
  type ExecutionResult,
  type GraphQLFormattedError,
} from 'graphql'
import type { Origin } from '../../server/authenticate.ts'
import type { Asker, FaceDeps } from '../context.ts'
import { graphqlContext } from './context.ts'
import type { Pace } from './pace.ts'
import { tellErrors } from './errors.ts'
import { recordRefused } from './record-refusal.ts'

export interface Teller {
  readonly deps: FaceDeps
  readonly origin: Origin
  /** Throws when whoever subscribed is there no more. */
  readonly askerNow: () => Promise<Asker>
  readonly inTurn: Pace['inTurn']
}

/** Errors in the words for clients already. */
export class Told extends Error {
  readonly errors: readonly GraphQLFormattedError[]
  constructor({ errors = [] }: ExecutionResult) {
    super('told')
    this.errors = errors as unknown as readonly GraphQLFormattedError[]
  }
}

export async function tellEach(args: ExecutionArgs, teller: Teller): Promise<AsyncGenerator<ExecutionResult>> {
  const source = await teller.inTurn(async () => createSourceEventStream(args))
  if (!(Symbol.asyncIterator in source)) return refused(source.errors ?? [], args, teller)
  const events = source[Symbol.asyncIterator]() as AsyncIterator<object>
  const over = async () => {
    await events.return?.()
    return { done: true, value: undefined } as const
  }
  // Not a generator function: return() of one waits for the announcement that it is waiting for.
  const stream = {
    next: async () => {
      try {
        const event = await events.next()
        return event.done === true ? await over() : { done: false, value: await tell(args, event.value, teller) }
      } catch (error) {
        await over()
        throw error
      }
    },
    return: over,
    throw: async (error: unknown) => {
      await over()
      throw error
    },
    [Symbol.asyncIterator]() {
      return this
    },
  }
  return stream as unknown as AsyncGenerator<ExecutionResult>
}

async function tell(
  args: ExecutionArgs,
  event: object,
  { deps, origin, askerNow, inTurn }: Teller,
): Promise<ExecutionResult> {
  const asker = await askerNow()
  const contextValue = graphqlContext(asker, deps)
  const result = await inTurn(async () => execute({ ...args, rootValue: event, contextValue }))
  if (result.errors === undefined) return result
  const { statusCode, response } = tellErrors(result, { id: asker.id, log: origin.log })
  // Nothing could be shown: whoever goes on listening would believe to have heard of it.
  if (statusCode >= 500) throw new Told(response)
  return response
}

async function* refused(
  errors: readonly GraphQLError[],
  { contextValue }: ExecutionArgs,
  { deps, origin, inTurn }: Teller,
): AsyncGenerator<ExecutionResult> {
  const request = { ...origin, ...(contextValue as { request: Asker }).request }
  await inTurn(() => recordRefused({ errors }, request, deps))
  throw new Told(tellErrors({ errors }, request).response)
}

/** What a face finds wrong before a use case does is a refusal all the same, and stands in the log. */
import type { Context } from '../application/context.ts'
import { recordRefusal } from '../application/perform.ts'
import { AppError } from '../domain/errors.ts'
import type { Action } from '../tenancy/policy.ts'

export async function audited<T>(ctx: Context, action: Action, work: () => T | Promise<T>): Promise<T> {
  try {
    return await work()
  } catch (error) {
    if (error instanceof AppError) await recordRefusal(ctx, action, error)
    throw error
  }
}

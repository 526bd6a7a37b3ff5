import { CODE_LISTS, type CodeList } from '../../domain/code-list-index.ts'
import { authorise } from '../../tenancy/policy.ts'
import type { Context } from '../context.ts'
import { orNotFound } from '../shared/existing.ts'

/** The lists are the same for everyone and hold no one's data, so reading one is no event of the audit log. */
export function readCodeLists(ctx: Context): { items: { key: string; version: string; count: number }[] } {
  authorise(ctx.actor, 'code-lists.read')
  return { items: CODE_LISTS.map(({ key, version, entries }) => ({ key, version, count: entries.length })) }
}

export function readCodeList(ctx: Context, input: { key: string }): CodeList {
  authorise(ctx.actor, 'code-lists.read')
  return orNotFound(CODE_LISTS.find((list) => list.key === input.key))
}

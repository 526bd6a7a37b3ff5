/** What was sent, held against a zod shape: every fault at once, in the words of the one error table. */
import { z } from 'zod'
import { AppError, documentError } from '../domain/errors.ts'
import { toFaults } from '../domain/faults.ts'
import type { Parsed } from '../domain/parsed.ts'
import { parseStrictJson } from '../domain/strict-json.ts'

/** A path that can't name anything names nothing: 404, as for an id that does not exist. */
export function parseParams(shape: z.ZodObject | undefined, params: unknown): unknown {
  if (shape === undefined) return {}
  const parsed = shape.safeParse(params)
  if (!parsed.success) throw new AppError('not_found')
  return parsed.data
}

export function parseQuery(shape: z.ZodObject | undefined, query: unknown): unknown {
  const parsed = (shape ?? z.strictObject({})).safeParse(query)
  if (parsed.success) return parsed.data
  const faults = toFaults(parsed.error, query).map((f) => ({ ...f, pointer: f.pointer.replace('#', '#/query') }))
  throw new AppError('invalid_query', { detail: 'The query has faults.', faults })
}

export function parseDocument(shape: z.ZodType | undefined, bytes: Uint8Array): Parsed<unknown> {
  const json = parseStrictJson(bytes)
  if (!json.ok) throw documentError(json.faults)
  const parsed = (shape ?? z.strictObject({})).safeParse(json.value)
  if (!parsed.success) throw documentError(toFaults(parsed.error, json.value))
  return { sent: json.value, value: parsed.data }
}

import { Readable } from 'node:stream'
import type { FastifyInstance } from 'fastify'
import { z } from 'zod'
import { AppError } from '../../src/domain/errors.ts'
import { afterEach, expect } from 'vitest'
import { wordsInNoList } from './answered-words.ts'

export interface ExpectedFaults {
  /** Words of a fault that a test plants; any other error is one that nobody expected. */
  readonly plantedFault?: string
}

/**
 * Holds every answer of every test against what the OpenAPI document says of it: a status that is not described, or a
 * body that does not have the described shape, fails the test that got it. So does an error that no one expected, and a
 * flag, a reason, a caution or a warning that is in no code list.
 */
export function holdAnswersAgainstTheirDescription(app: FastifyInstance, { plantedFault }: ExpectedFaults = {}): void {
  const differences: string[] = []
  app.addHook('onError', async (request, _reply, error) => {
    const known = error instanceof AppError && error.code !== 'internal'
    const planted = plantedFault !== undefined && error.message.includes(plantedFault)
    if (!known && !planted && error.statusCode === undefined)
      differences.push(`${request.method} ${request.url}: ${error.stack ?? error.message}`)
  })
  app.addHook('onSend', async (request, reply, payload) => {
    const described = (request.routeOptions.schema as { response?: Record<string, unknown> } | undefined)?.response
    // 500 is described nowhere, since it has no shape to promise; its cause is noted above.
    if (described === undefined || reply.statusCode === 500) return payload
    const where = `${request.method} ${request.routeOptions.url} ${reply.statusCode}`
    const contentType = String(reply.getHeader('content-type') ?? '')
    const shape = shapeOf(described[reply.statusCode], contentType)
    if (shape === null) differences.push(`${where}: this status or content type is not described`)
    // What leaves piece by piece is for the tests that read it.
    else if (!(payload instanceof Readable)) {
      const body: unknown = contentType.includes('json') ? JSON.parse(String(payload)) : String(payload)
      const parsed = shape.safeParse(body)
      if (!parsed.success) differences.push(`${where}: ${z.prettifyError(parsed.error)}`)
      differences.push(...wordsInNoList(body).map((word) => `${where}: ${word}`))
    }
    return payload
  })
  afterEach(() => {
    expect(differences.splice(0)).toEqual([])
  })
}

function shapeOf(described: unknown, contentType: string): z.ZodType | null {
  if (described instanceof z.ZodType) return described
  const { content } = (described ?? {}) as { content?: Record<string, { schema?: unknown }> }
  const shape = content?.[contentType.split(';', 1)[0] ?? '']?.schema
  return shape instanceof z.ZodType ? shape : null
}

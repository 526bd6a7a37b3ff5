/** What REST routes take from a request beside path, query and body. */
import { createHash } from 'node:crypto'
import type { FastifyRequest } from 'fastify'
import type { Created, OnceKey } from '../../application/create-once.ts'
import type { Answer } from './route.ts'

export function onceKey(input: { request: FastifyRequest; bytes: Uint8Array }): OnceKey {
  const key = input.request.headers['idempotency-key']
  return {
    route: `${input.request.method} ${input.request.routeOptions.url ?? ''}${pathId(input.request)}`,
    key: typeof key === 'string' ? key : undefined,
    bodyHash: new Uint8Array(createHash('sha256').update(input.bytes).digest()),
  }
}

/** The same key under two parents is two keys. */
function pathId(request: FastifyRequest): string {
  const ids = Object.values((request.params ?? {}) as Record<string, string>)
  return ids.length === 0 ? '' : ` ${ids.join(' ')}`
}

export const ifMatch = (request: FastifyRequest): string | undefined => request.headers['if-match']

export const created = ({ status, headers, body }: Created): Answer => ({ status, headers, body })

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

/** RFC 9110 12.5.1: CSV where the Accept header gives it the higher quality. */
export const prefersCsv = (request: FastifyRequest): boolean => prefers(request, 'text/csv', 'application/json')

export function prefers(request: FastifyRequest, type: string, to: string): boolean {
  const accept = request.headers.accept ?? '*/*'
  return qualityOf(accept, type) > qualityOf(accept, to)
}

/** The bare JWS, where the Accept header gives it the higher quality. */
export function prefersJose(request: FastifyRequest): boolean {
  const accept = request.headers.accept ?? '*/*'
  return qualityOf(accept, 'application/jose') > qualityOf(accept, 'application/json')
}

function qualityOf(accept: string, type: string): number {
  const ranges = accept.split(',').map((range) => {
    const [name = '', ...parameters] = range.split(';').map((part) => part.trim().toLowerCase())
    return { name, quality: Number(parameters.find((part) => part.startsWith('q='))?.slice(2) ?? 1) }
  })
  const most = [type, type.replace(/\/.*/, '/*'), '*/*'].map((name) => ranges.find((range) => range.name === name))
  return most.find((range) => range !== undefined)?.quality ?? 0
}

export const created = ({ status, headers, body }: Created): Answer => ({ status, headers, body })

/**
 * Addresses at which a connection may become a WebSocket. A request that asks for any other upgrade (h2c, as some clients do
 * on every first request) is answered as if it had not asked.
 */
import type { IncomingMessage } from 'node:http'
import type { Duplex } from 'node:stream'

declare module 'fastify' {
  interface FastifyInstance {
    /** By path; set before the server listens. */
    upgrades: Upgrades
  }
}

export type Upgrade = (request: IncomingMessage, socket: Duplex, head: Buffer) => void
export type Upgrades = Map<string, Upgrade>

export const upgradeAt = (upgrades: Upgrades, { url, headers }: IncomingMessage): Upgrade | undefined =>
  headers.upgrade?.toLowerCase() === 'websocket' ? upgrades.get(url?.split('?', 1)[0] ?? '') : undefined

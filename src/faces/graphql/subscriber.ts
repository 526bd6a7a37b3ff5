/**
 * Who is at the other end of a socket: known from connection_init on, looked up anew for every announcement and now and then
 * between them, and shown the door when the token expires, the membership ends or the role becomes another.
 */
import type { IncomingHttpHeaders } from 'node:http'
import { CloseCode } from 'graphql-ws'
import { v7 as uuidv7 } from 'uuid'
import { isCodeWord } from '../../application/audit/words.ts'
import { AppError } from '../../domain/errors.ts'
import { identify, noteInSecurityLog, type Origin } from '../../server/authenticate.ts'
import type { Actor } from '../../tenancy/actor.ts'
import type { Asker, FaceDeps } from '../context.ts'
import type { Pace } from './pace.ts'

export interface SocketLimits {
  /** From the upgrade to connection_init. */
  readonly initMs: number
  /** Between two looks whether the member is still one. */
  readonly recheckMs: number
  /** Between two pings; a client that has not answered one by the next is gone. */
  readonly pingMs: number
  readonly sockets: number
  readonly socketsOfPrincipal: number
  readonly subscriptionsOfSocket: number
  readonly messageBytes: number
}

export const SOCKET_LIMITS: SocketLimits = {
  initMs: 10_000,
  recheckMs: 10_000,
  pingMs: 15_000,
  sockets: 1_000,
  socketsOfPrincipal: 10,
  subscriptionsOfSocket: 20,
  messageBytes: 64 * 1024,
}

/** RFC 6455: come back later. */
export const TRY_AGAIN_LATER = 1013

interface Place {
  readonly deps: FaceDeps
  readonly limits: SocketLimits
  /** Open sockets by principal, of this process. */
  readonly open: Map<string, number>
  readonly close: (code: number, reason: string) => void
  readonly inTurn: Pace['inTurn']
}

/** What may stand in connection_init, since a browser can't set headers; names in any case, as headers are. */
type Given = Readonly<Record<string, unknown>>

export class Subscriber {
  readonly origin: Origin
  readonly #place: Place
  readonly #upgrade: IncomingHttpHeaders
  #headers: IncomingHttpHeaders = {}
  #actor: Actor | null = null
  #expiry: NodeJS.Timeout | undefined
  #recheck: NodeJS.Timeout | undefined
  #over = false

  constructor(origin: Origin, upgrade: IncomingHttpHeaders, place: Place) {
    this.origin = origin
    this.#upgrade = upgrade
    this.#place = place
  }

  get known(): boolean {
    return this.#actor !== null
  }

  /** connection_init. False: refused, and the protocol says with which code. */
  async begin(given: Given): Promise<boolean> {
    const authorization = textOf(given, 'authorization') ?? this.#upgrade.authorization
    const purpose = textOf(given, 'purpose') ?? textOf(this.#upgrade, 'purpose')
    if (purpose !== undefined && !isCodeWord(purpose)) return this.#refuse('malformed_request')
    this.#headers = { authorization, purpose }
    try {
      const { actor, expiresAt } = await this.#identify()
      if (actor.kind === 'team') return await this.#refuse('team_token')
      if (this.#over) return false
      return this.#settle(actor, expiresAt)
    } catch (error) {
      if (error instanceof AppError && error.code === 'unauthenticated') return false
      this.#place.close(TRY_AGAIN_LATER, 'Try again later')
      return true
    }
  }

  /** For one operation or one announcement. */
  async asker(): Promise<Asker> {
    const actor = await this.#stillThere()
    return { id: uuidv7(), actor, headers: this.#headers }
  }

  end(): void {
    if (this.#over) return
    this.#over = true
    clearTimeout(this.#expiry)
    clearInterval(this.#recheck)
    if (this.#actor !== null) this.#count(this.#actor, -1)
  }

  #settle(actor: Actor, expiresAt: Date): boolean {
    const { limits, open, close } = this.#place
    if ((open.get(actor.principalId) ?? 0) >= limits.socketsOfPrincipal) {
      close(TRY_AGAIN_LATER, 'Too many connections')
      return true
    }
    this.#actor = actor
    this.#count(actor, 1)
    this.#expiry = setTimeout(() => this.#place.close(CloseCode.Forbidden, 'The token has expired'), expiresAt.getTime() - Date.now()) // prettier-ignore
    // Where the database does not answer nothing is known, and nothing is shown either.
    this.#recheck = setInterval(() => void this.#stillThere().catch(() => undefined), limits.recheckMs)
    return true
  }

  async #stillThere(): Promise<Actor> {
    try {
      const { actor } = await this.#identify()
      if (actor.kind === 'clinic' && this.#actor?.kind === 'clinic' && actor.role === this.#actor.role) return actor
      this.#place.close(CloseCode.Forbidden, 'The role has changed')
      throw new AppError('forbidden')
    } catch (error) {
      if (error instanceof AppError && error.code === 'unauthenticated') this.#place.close(CloseCode.Forbidden, 'No longer a member') // prettier-ignore
      throw error
    }
  }

  #identify() {
    const { deps, inTurn } = this.#place
    return inTurn(() => identify(this.#headers.authorization, this.origin, deps.db, deps.verify))
  }

  async #refuse(code: string): Promise<false> {
    await noteInSecurityLog(this.origin, this.#place.deps.db, code)
    return false
  }

  #count({ principalId }: Actor, change: number): void {
    const { open } = this.#place
    const count = (open.get(principalId) ?? 0) + change
    if (count === 0) open.delete(principalId)
    else open.set(principalId, count)
  }
}

function textOf(given: Given, wanted: string): string | undefined {
  const [, value] = Object.entries(given).find(([name]) => name.toLowerCase() === wanted) ?? []
  return typeof value === 'string' ? value : undefined
}

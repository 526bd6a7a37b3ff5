/**
 * How fast a client is listened to: no faster than it is answered and than it reads the answers. What would wait for it in
 * memory stays bounded, and it takes no more of the database than a few requests would.
 */
import type { WebSocket } from 'ws'
import { Turns } from './turns.ts'

/** Of ten connections to the database, for all sockets together: the others are there for requests. */
export const TURNS_OF_SOCKETS = 4
const TURNS_OF_A_SOCKET = 2

const MOST_UNREAD_BYTES = 1024 * 1024

export class Pace {
  readonly #socket: WebSocket
  readonly #ofAll: Turns
  readonly #own = new Turns(TURNS_OF_A_SOCKET)
  readonly #mostWaiting: number

  constructor(socket: WebSocket, { ofAll, mostWaiting }: { readonly ofAll: Turns; readonly mostWaiting: number }) {
    this.#socket = socket
    this.#ofAll = ofAll
    this.#mostWaiting = mostWaiting
  }

  /** One reading or writing of the database. Not within another: both would wait for the same turns. */
  inTurn = async <T>(work: () => Promise<T>): Promise<T> => {
    const done = this.#own.take(() => this.#ofAll.take(async () => (this.#isOpen() ? { answer: await work() } : null)))
    this.#look()
    const told = await done.finally(() => this.#look())
    // On a closed socket nobody waits for an answer, nor for the word that there is none: what waits for it is forgotten with it.
    return told === null ? new Promise<never>(() => undefined) : told.answer
  }

  write(begin: (done: () => void) => void): Promise<void> {
    return new Promise((resolve) => {
      // A socket that breaks while it is written to closes, and that ends what is told on it.
      if (!this.#isOpen()) return resolve()
      begin(() => {
        this.#look()
        resolve()
      })
      this.#look()
    })
  }

  #isOpen(): boolean {
    return this.#socket.readyState === this.#socket.OPEN
  }

  #look(): void {
    const isBehind = this.#own.waiting > this.#mostWaiting || this.#socket.bufferedAmount > MOST_UNREAD_BYTES
    if (isBehind) this.#socket.pause()
    else if (this.#socket.isPaused) this.#socket.resume()
  }
}

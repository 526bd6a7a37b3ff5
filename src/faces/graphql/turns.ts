/** Work that waits its turn: so many pieces at once, the others in the order in which they came. */
export class Turns {
  readonly #atOnce: number
  readonly #waiting: (() => void)[] = []
  #atWork = 0

  constructor(atOnce: number) {
    this.#atOnce = atOnce
  }

  get waiting(): number {
    return this.#waiting.length
  }

  async take<T>(work: () => Promise<T>): Promise<T> {
    if (this.#atWork < this.#atOnce) this.#atWork++
    else await new Promise<void>((resolve) => this.#waiting.push(resolve))
    try {
      return await work()
    } finally {
      // The turn is handed on, and free only when nobody waits for it.
      const next = this.#waiting.shift()
      if (next === undefined) this.#atWork--
      else next()
    }
  }
}

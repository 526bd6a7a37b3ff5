/**
 * A small seeded generator, so that every simulated recording can be made again from its seed. Not for secrets.
 * Uniform numbers: mulberry32 (Tommy Ettinger, public domain). Normal numbers: Box and Muller 1958 Ann Math Stat 29:610-1.
 */
export interface Random {
  /** Uniform in [0, 1). */
  uniform(): number
  /** Normal with mean 0 and standard deviation 1. */
  normal(): number
}

export function seededRandom(seed: number): Random {
  let state = seed >>> 0
  const uniform = (): number => {
    state = (state + 0x6d2b79f5) >>> 0
    let bits = Math.imul(state ^ (state >>> 15), state | 1)
    bits ^= bits + Math.imul(bits ^ (bits >>> 7), bits | 61)
    return ((bits ^ (bits >>> 14)) >>> 0) / 2 ** 32
  }
  const normal = (): number => {
    const radius = Math.sqrt(-2 * Math.log(1 - uniform()))
    return radius * Math.cos(2 * Math.PI * uniform())
  }
  return { uniform, normal }
}

/**
 * RFC 8785 (JSON Canonicalization Scheme) and its SHA-256: two documents with one hash say the same, whatever their spacing
 * and order of keys. The text goes to the hash in pieces and an array of numbers in one call, because a visit carries a few
 * hundred thousand samples; JSON.stringify writes numbers and strings exactly as RFC 8785 asks.
 */
import { createHash } from 'node:crypto'

export function canonicalSha256(value: unknown): string {
  const hash = createHash('sha256')
  writeCanonical(value, (text) => hash.update(text, 'utf8'))
  return hash.digest('hex')
}

export function canonicalJson(value: unknown): string {
  const parts: string[] = []
  writeCanonical(value, (text) => parts.push(text))
  return parts.join('')
}

/** For values made by JSON.parse or equal to such: anything JSON cannot hold is the caller's mistake. */
function writeCanonical(value: unknown, write: (text: string) => void): void {
  if (Array.isArray(value)) writeArray(value, write)
  else if (typeof value === 'object' && value !== null) writeObject(value as Readonly<Record<string, unknown>>, write)
  else write(scalar(value))
}

function writeArray(array: readonly unknown[], write: (text: string) => void): void {
  if (array.every((element) => typeof element === 'number' && Number.isFinite(element))) {
    write(JSON.stringify(array))
    return
  }
  write('[')
  array.forEach((element, index) => {
    if (index > 0) write(',')
    writeCanonical(element, write)
  })
  write(']')
}

function writeObject(object: Readonly<Record<string, unknown>>, write: (text: string) => void): void {
  write('{')
  let first = true
  // Array.prototype.sort without a comparator orders by UTF-16 code unit, which is the order RFC 8785 wants
  for (const key of Object.keys(object).sort()) {
    if (object[key] === undefined) continue
    write(`${first ? '' : ','}${scalar(key)}:`)
    first = false
    writeCanonical(object[key], write)
  }
  write('}')
}

function scalar(value: unknown): string {
  if (typeof value === 'string' && value.isWellFormed()) return JSON.stringify(value)
  if (typeof value === 'number' && Number.isFinite(value)) return JSON.stringify(value)
  if (typeof value === 'boolean' || value === null) return String(value)
  throw new RangeError(`a ${typeof value} of this kind has no canonical JSON form`)
}

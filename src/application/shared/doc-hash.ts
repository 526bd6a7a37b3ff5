import { canonicalSha256 } from '../../domain/canonical-json.ts'

/** The same words, whatever their spacing and order of keys, have the same hash (RFC 8785). */
export const docHashOf = (sent: unknown): Uint8Array<ArrayBuffer> =>
  new Uint8Array(Buffer.from(canonicalSha256(sent), 'hex'))

export const sameHash = (a: Uint8Array, b: Uint8Array): boolean => Buffer.from(a).equals(b)

/** Base64 (RFC 4648 section 4, padded, no line breaks) of little-endian float32, or null where it is anything else. */
export function decodeBase64Float32(text: string): Float32Array | null {
  if (text.length % 4 !== 0 || !/^[A-Za-z0-9+/]*={0,2}$/.test(text)) return null
  const bytes = Buffer.from(text, 'base64')
  if (bytes.byteLength % 4 !== 0) return null
  // The unused bits before the padding must be 0, or two texts would mean the same bytes
  const tail = text.slice(-4)
  if (Buffer.from(tail, 'base64').toString('base64') !== tail) return null
  const view = new DataView(bytes.buffer, bytes.byteOffset, bytes.byteLength)
  const floats = new Float32Array(bytes.byteLength / 4)
  for (let i = 0; i < floats.length; i++) floats[i] = view.getFloat32(i * 4, true)
  return floats
}

/**
 * The lines of a stream as bytes. Nothing is decoded: what is sent on is what stood there, and whoever reads it says what is
 * wrong with it. A line of more than `most` bytes is `null`, and is never held whole. What comes after the last line feed is
 * a line, if it is anything.
 */
export async function* linesOf(
  chunks: AsyncIterable<Uint8Array> | Iterable<Uint8Array>,
  most: number,
): AsyncGenerator<Uint8Array | null> {
  let parts: Uint8Array[] = []
  let length = 0
  const take = (part: Uint8Array): void => {
    length += part.length
    if (length <= most) parts.push(part)
    else parts = []
  }
  const line = (): Uint8Array | null => {
    const whole = length <= most ? Buffer.concat(parts) : null
    parts = []
    length = 0
    return whole
  }
  for await (const chunk of chunks) {
    let from = 0
    for (let end = chunk.indexOf(LINE_FEED); end !== -1; end = chunk.indexOf(LINE_FEED, from)) {
      take(chunk.subarray(from, end))
      yield line()
      from = end + 1
    }
    take(chunk.subarray(from))
  }
  if (length > 0) yield line()
}

const LINE_FEED = 0x0a

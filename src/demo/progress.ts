/** How far the demo is, on stderr: one line that is written over on a terminal, a line each elsewhere. */
const overwrites = process.stderr.isTTY

export function say(sentence: string): void {
  process.stderr.write(`${overwrites ? '\r\u001b[K' : ''}${sentence}\n`)
}

export function sayProgress(done: number, of: number, doing: string): void {
  const bar = '#'.repeat(done).padEnd(of, '.')
  process.stderr.write(overwrites ? `\r\u001b[K[${bar}] ${doing}` : `[${bar}] ${doing}\n`)
  if (overwrites && done === of) process.stderr.write('\r\u001b[K')
}

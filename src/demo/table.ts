/** Plain tables for a terminal of 120 columns: text to the left, numbers to the right, long text on more lines. */

export interface Column {
  readonly title: string
  readonly align?: 'left' | 'right'
  /** Wraps at this width; as wide as its widest cell if absent. */
  readonly width?: number
}

export const WIDEST = 120
const MARGIN = '  '
const GAP = '  '

export function table(columns: readonly Column[], rows: readonly (readonly string[])[]): string {
  const cells = [columns.map(({ title }) => title), ...rows].map((row) =>
    columns.map((column, i) => wrap(row[i] ?? '', column.width ?? WIDEST)),
  )
  const widths = columns.map((_, i) => Math.max(...cells.flatMap((row) => (row[i] ?? []).map((line) => line.length))))
  const lines = cells.flatMap((row) => {
    const height = Math.max(...row.map((cell) => cell.length))
    return Array.from({ length: height }, (_, line) =>
      row.map((cell, i) => aligned(cell[line] ?? '', widths[i] ?? 0, columns[i]?.align ?? 'left')).join(GAP),
    )
  })
  const heading = Math.max(...(cells[0] ?? []).map((cell) => cell.length))
  lines.splice(heading, 0, widths.map((width) => '-'.repeat(width)).join(GAP))
  return lines.map((line) => `${MARGIN}${line}`.trimEnd()).join('\n')
}

/** Lines of at most `width`, broken at spaces; a longer word keeps its length. */
export function wrap(text: string, width: number): string[] {
  const lines: string[] = []
  let line = ''
  for (const word of text.split(' ')) {
    if (line !== '' && line.length + 1 + word.length > width) {
      lines.push(line)
      line = word
    } else line = line === '' ? word : `${line} ${word}`
  }
  return [...lines, line]
}

/** A paragraph inside the margin. */
export function paragraph(text: string): string {
  return wrap(text, WIDEST - 2 * MARGIN.length)
    .map((line) => `${MARGIN}${line}`)
    .join('\n')
}

function aligned(text: string, width: number, align: 'left' | 'right'): string {
  return align === 'right' ? text.padStart(width) : text.padEnd(width)
}

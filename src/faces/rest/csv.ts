/** CSV for people who open it in a spreadsheet (RFC 4180): text that a spreadsheet would run as a formula begins with a quote mark. */
export type CsvCell = string | number | null

export function toCsv(header: readonly string[], rows: readonly (readonly CsvCell[])[]): string {
  return [header, ...rows].map((row) => row.map(cell).join(',') + '\r\n').join('')
}

/** A negative number stays a number; a text that begins like one does not. */
function cell(value: CsvCell): string {
  if (value === null) return ''
  if (typeof value === 'number') return String(value)
  const harmless = /^[=+\-@\t\r]/.test(value) ? `'${value}` : value
  return /[",\r\n']/.test(harmless) ? `"${harmless.replaceAll('"', '""')}"` : harmless
}

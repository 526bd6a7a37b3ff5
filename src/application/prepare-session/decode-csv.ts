/**
 * CSV whose header names channel and unit: "time (s),torque (N.m),angle (deg)". Strict on purpose: a semicolon or a decimal
 * comma is refused and never guessed at, because "1,234" is two columns to one reader and a number to another.
 */
import { CsvError } from 'csv-parse'
import { parse } from 'csv-parse/sync'
import { CHANNEL_KINDS, CHANNEL_NAMES, SESSION_LIMITS } from '../../domain/session-document.ts'
import type { ChannelName } from '../../domain/session-document.ts'
import type { JsonPath } from '../../domain/json-pointer.ts'
import { jsonPointer } from '../../domain/json-pointer.ts'
import { unitFault } from '../../domain/quantities.ts'
import { unreadable } from './sent-channel.ts'
import type { Decoded, SentChannel } from './sent-channel.ts'

const NUMBER = /^[+-]?(?:\d+\.?\d*|\.\d+)(?:[eE][+-]?\d+)?$/
const MOST_ROWS = SESSION_LIMITS.recordingSeconds * SESSION_LIMITS.maxSampleRateHz + 1

class RowFault extends Error {}

export function decodeCsv(csv: string, path: JsonPath): Decoded<readonly SentChannel[]> {
  const headerEnd = csv.search(/[\r\n]/)
  const headerLine = headerEnd === -1 ? csv : csv.slice(0, headerEnd)
  if (headerLine.includes(';') || headerLine.includes('\t')) {
    return unreadable(path, 'Columns are separated by a comma and decimals by a point.')
  }
  const header = readHeader(headerLine.split(','), path)
  if (!header.ok) return header
  const columns = header.value.map(({ name, unit }) => ({ name, unit, values: [] as number[] }))
  try {
    parse(csv, {
      from_line: 2,
      cast: false,
      relax_column_count: false,
      skip_empty_lines: false,
      max_record_size: 1000,
      on_record: (record: string[], { lines }) => {
        readRow(record, lines, columns)
        return null
      },
    })
  } catch (error) {
    if (error instanceof RowFault) return unreadable(path, error.message)
    if (error instanceof CsvError)
      return unreadable(path, `Line ${lineOf(error)}: every line has ${columns.length} numbers.`)
    throw error
  }
  const locate = (index: number): { path: JsonPath; where: string } => ({ path, where: `Line ${index + 2}, ` })
  return { ok: true, value: columns.map((column) => ({ ...column, field: path, locate })) }
}

function readHeader(cells: readonly string[], path: JsonPath): Decoded<readonly { name: ChannelName; unit: string }[]> {
  const columns: { name: ChannelName; unit: string }[] = []
  for (const [index, cell] of cells.entries()) {
    const match = /^"?([a-z]+) \(([^()]+)\)"?$/.exec(cell.trim())
    const name = CHANNEL_NAMES.find((each) => each === match?.[1])
    const unit = match?.[2]
    if (name === undefined || unit === undefined) {
      const form = `Column ${index + 1} of the header: a channel (${CHANNEL_NAMES.join(', ')}) and its unit belong here, as in "torque (N.m)".`
      return unreadable(path, form)
    }
    if (columns.some((column) => column.name === name)) return unreadable(path, `The column ${name} occurs twice.`)
    const wrong = unitFault(unit, CHANNEL_KINDS[name])
    if (wrong !== null) {
      const message = `Column ${index + 1} of the header: ${wrong.message}`
      return { ok: false, fault: { pointer: jsonPointer(path), ...wrong, message } }
    }
    columns.push({ name, unit })
  }
  return { ok: true, value: columns }
}

function readRow(
  record: readonly string[],
  line: number,
  columns: readonly { name: string; values: number[] }[],
): void {
  if (record.length !== columns.length) throw new RowFault(`Line ${line}: every line has ${columns.length} numbers.`)
  columns.forEach(({ name, values }, index) => {
    const cell = record[index] ?? ''
    // Number('') is 0 and Number('0x10') is 16: the text is held against the grammar first
    if (!NUMBER.test(cell)) throw new RowFault(`Line ${line}, ${name}: a number with a decimal point belongs here.`)
    if (values.length === MOST_ROWS) throw new RowFault(`A recording has at most ${MOST_ROWS} samples.`)
    values.push(Number(cell))
  })
}

function lineOf(error: CsvError): number {
  const { lines } = error as unknown as { lines?: number }
  return lines ?? 1
}

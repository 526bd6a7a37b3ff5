import type { CaseResult, RepetitionError } from './accuracy-case.ts'

export interface Spread {
  readonly n: number
  /** Mean of the errors. */
  readonly bias: number
  /** Sample standard deviation of the errors, n - 1. */
  readonly spread: number
  readonly largest: number
}

export function spreadOf(errors: readonly (number | null)[]): Spread | null {
  const values = errors.filter((error) => error !== null)
  if (values.length < 2) return null
  const bias = values.reduce((sum, value) => sum + value, 0) / values.length
  const squares = values.reduce((sum, value) => sum + (value - bias) ** 2, 0)
  const largest = values.reduce((most, value) => Math.max(most, Math.abs(value)), 0)
  return { n: values.length, bias, spread: Math.sqrt(squares / (values.length - 1)), largest }
}

const MEASURES = [
  ['peak N.m', 'peakNm', 2],
  ['peak %', 'peakPercent', 2],
  ['angle deg', 'angleDeg', 1],
  ['work %', 'workPercent', 2],
] as const satisfies readonly (readonly [string, keyof RepetitionError, number])[]

/** Bias, spread and largest error of each measure, a line for each case. */
export function errorTable(title: string, results: readonly CaseResult[]): string {
  const header = [
    '',
    'reps',
    ...MEASURES.flatMap(([name]) => [`${name}: bias`, 'spread', 'largest']),
    'refused',
    'at edge',
  ]
  const rows = results.map(({ label, errors, measurable, refused, immeasurable }) => {
    const inside = errors.filter(({ peakAtEdge }) => !peakAtEdge)
    return [
      label,
      `${errors.length}/${measurable + immeasurable.length}`,
      ...MEASURES.flatMap(([, key, digits]) => {
        const spread = spreadOf((key === 'workPercent' ? errors : inside).map((error) => error[key]))
        if (spread === null) return ['-', '-', '-']
        return [spread.bias, spread.spread, spread.largest].map((value) => value.toFixed(digits))
      }),
      String(refused.length + immeasurable.filter((reason) => reason !== null).length),
      String(errors.length - inside.length),
    ]
  })
  const widths = header.map((_, column) => Math.max(...[header, ...rows].map((row) => row[column]!.length)))
  const line = (row: readonly string[]) =>
    `  ${row.map((cell, i) => (i === 0 ? cell.padEnd(widths[i]!) : cell.padStart(widths[i]!))).join('  ')}`
  return [title, line(header), ...rows.map(line)].join('\n')
}

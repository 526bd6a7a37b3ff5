import {
  MEASURE_UNITS,
  type Analysis,
  type DirectionAnalysis,
  type Measured,
  type MeasureName,
  type MeasureStatistics,
  type Protocol,
  type RepetitionMeasure,
  type Statistic,
} from '../compute/index.ts'

const REPETITION_COLUMNS: readonly RepetitionMeasure[] = [
  'peakTorque',
  'angleOfPeakTorque',
  'workPerRepetition',
  'averagePower',
  'rangeOfMotion',
  'loadRange',
]
const ISOMETRIC_COLUMNS: readonly RepetitionMeasure[] = [
  'peakTorque',
  'isometricPlateauTorque',
  'timeToPeakTorque',
  'rateOfTorqueDevelopment',
]
const STATISTICS: readonly Statistic[] = ['best', 'mean', 'total', 'coefficientOfVariation']

/** An analysis for a terminal: what was assumed first, then each direction, then what has to be said about it. */
export function analysisTables(input: {
  readonly file: string
  readonly side: string
  readonly protocol: Protocol
  readonly notes: readonly string[]
  readonly analysis: Analysis
}): string {
  const { file, side, protocol, notes, analysis } = input
  const filter = analysis.filter === 'none' ? 'none' : `zero-phase Butterworth, ${analysis.filter.cutoffHz} Hz`
  const rate = analysis.sampleRateHz === null ? 'unknown sample rate' : `${Math.round(analysis.sampleRateHz)} Hz`
  const lines = [
    `${file}: ${side} ${protocol.joint}, ${rate}`,
    `gravity corrected: ${analysis.gravityCorrected} (${spoken(analysis.gravityCorrection)}); filter: ${filter}; ` +
      `velocity ${spoken(analysis.velocitySource)}; compute version ${analysis.computeVersion}`,
    ...analysis.directions.flatMap((direction) => ['', ...directionLines(direction)]),
  ]
  const remarks = [
    ...notes.map((note) => `note: ${note}`),
    ...analysis.findings.map(({ level, code, detail }) => `${level}: ${detail} (${code})`),
  ]
  return [...lines, ...(remarks.length > 0 ? ['', ...remarks] : [])].join('\n')
}

function directionLines(direction: DirectionAnalysis): string[] {
  const { movement, contractionMode, velocityDegS, repetitions, counted, measures } = direction
  const speed = contractionMode === 'isometric' ? '' : ` at ${velocityDegS} deg/s`
  const columns = contractionMode === 'isometric' ? ISOMETRIC_COLUMNS : REPETITION_COLUMNS
  const perRepetition = repetitions.map((repetition) => [
    String(repetition.repetition),
    ...columns.map((name) => shown(repetition.measures[name])),
    repetition.counted === 'yes' ? '' : `not counted: ${repetition.reason ?? ''}`,
    repetition.flags.join(' '),
  ])
  const summary = (Object.keys(measures) as MeasureName[])
    .filter((name) => applies(measures[name]))
    .map((name) => [
      `${name} (${MEASURE_UNITS[name]})`,
      ...STATISTICS.map((statistic) => {
        const value = measures[name]?.[statistic]
        return value === undefined ? '' : shown(value)
      }),
    ])
  return [
    `${movement}, ${spoken(contractionMode)}${speed}: ${counted} of ${repetitions.length} repetitions counted`,
    ...table([['rep', ...columns.map((name) => `${name} (${MEASURE_UNITS[name]})`), '', ''], ...perRepetition]),
    '',
    ...table([['measure', 'best', 'mean', 'total', 'CV (%)'], ...summary]),
  ]
}

/** A measure of the other kind of contraction has no line of its own. */
function applies(statistics: MeasureStatistics | undefined): boolean {
  return STATISTICS.some((statistic) => {
    const value = statistics?.[statistic]
    return value !== undefined && (value.value !== null || !value.reason.endsWith('_only'))
  })
}

function shown(measured: Measured): string {
  return measured.value === null ? measured.reason : measured.value.toFixed(Math.abs(measured.value) < 10 ? 3 : 1)
}

function spoken(codeWord: string): string {
  return codeWord.replaceAll('_', ' ')
}

function table(rows: readonly (readonly string[])[]): string[] {
  const widths = rows[0]!.map((_, column) => Math.max(...rows.map((row) => row[column]!.length)))
  return rows.map((row) => `  ${row.map((cell, column) => cell.padEnd(widths[column]!)).join('  ')}`.trimEnd())
}

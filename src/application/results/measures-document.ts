/** An analysis in the shape of the contract: every value with its unit, every absence with its reason. */
import {
  MEASURE_NAMES,
  MEASURE_UNITS,
  type DirectionAnalysis,
  type MeasureName,
  type Measured,
  type Statistic,
  type StatValue,
} from '../../compute/index.ts'

export type ValueDocument =
  | {
      readonly value: number
      readonly unit: string
      readonly repetition?: number
      readonly n?: number
      readonly derived?: 'from_reported_value'
    }
  | { readonly value: null; readonly unit: string; readonly reason: string; readonly n?: number }

export type StatisticsDocument = { readonly [S in Statistic]?: ValueDocument }

export interface TorqueAtAngleDocument {
  readonly angle: { readonly value: number; readonly unit: 'deg' }
  readonly best: ValueDocument
  readonly mean: ValueDocument
}

export type MeasuresDocument = { readonly [M in MeasureName]?: StatisticsDocument } & {
  readonly torqueAtAngle?: readonly TorqueAtAngleDocument[]
}

type Direction = Pick<DirectionAnalysis, 'measures' | 'torqueAtAngle'>

export function measuresDocument(direction: Direction): MeasuresDocument {
  const measures: Partial<Record<MeasureName, StatisticsDocument>> = {}
  for (const name of MEASURE_NAMES) {
    const statistics = direction.measures[name]
    if (statistics === undefined) continue
    measures[name] = Object.fromEntries(
      Object.entries(statistics).map(([statistic, value]) => [
        statistic,
        valueDocument(value, unitOf(name, statistic)),
      ]),
    )
  }
  return {
    ...measures,
    torqueAtAngle: direction.torqueAtAngle.map(({ angleDeg, best, mean }) => ({
      angle: { value: angleDeg, unit: 'deg' },
      best: valueDocument(best, MEASURE_UNITS.torqueAtAngle),
      mean: valueDocument(mean, MEASURE_UNITS.torqueAtAngle),
    })),
  }
}

function unitOf(measure: MeasureName, statistic: string): string {
  return statistic === 'coefficientOfVariation' ? '%' : MEASURE_UNITS[measure]
}

function valueDocument(value: StatValue, unit: string): ValueDocument {
  const count = value.n === undefined ? {} : { n: value.n }
  if (value.value === null) return { value: null, unit, reason: value.reason, ...count }
  return {
    value: value.value,
    unit,
    ...(value.repetition === undefined ? {} : { repetition: value.repetition }),
    ...(value.derived === undefined ? {} : { derived: value.derived }),
    ...count,
  }
}

/** One number of a stored result. `null` and a reason where there is none; not_measured where it was never asked for. */
export function readMeasure(
  measures: unknown,
  measure: string,
  statistic: string,
  angleDeg?: number,
): Measured & { unit: string } {
  // prettier-ignore
  const document = measures as MeasuresDocument
  const found =
    measure === 'torqueAtAngle'
      ? document.torqueAtAngle?.find((row) => row.angle.value === angleDeg)?.[statistic as 'best']
      : document[measure as MeasureName]?.[statistic as Statistic]
  if (found === undefined) {
    return { value: null, reason: 'not_measured', unit: MEASURE_UNITS[measure as MeasureName] ?? '1' }
  }
  return found.value === null
    ? { value: null, reason: found.reason, unit: found.unit }
    : { value: found.value, unit: found.unit }
}

/** What SQL reads without opening the document. */
export function hotColumns(direction: Direction) {
  const number = (measure: MeasureName, statistic: Statistic = 'best'): number | null =>
    direction.measures[measure]?.[statistic]?.value ?? null
  return {
    peakTorqueNm: number('peakTorque'),
    meanPeakTorqueNm: number('peakTorque', 'mean'),
    peakTorqueCvPercent: number('peakTorque', 'coefficientOfVariation'),
    angleOfPeakTorqueDeg: number('angleOfPeakTorque'),
    workPerRepetitionJ: number('workPerRepetition'),
    totalWorkJ: number('totalWork', 'total'),
    averagePowerW: number('averagePower'),
    rangeOfMotionDeg: number('rangeOfMotion'),
    loadRangeDeg: number('loadRange'),
  }
}

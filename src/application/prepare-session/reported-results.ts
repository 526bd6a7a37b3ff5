/** Values somebody else computed, in the shape of our own: what was not reported is null with that reason, never left out. */
import { convert, MEASURE_NAMES, MEASURE_UNITS, perBodyMass } from '../../compute/index.ts'
import type {
  DirectionProtocol,
  Finding,
  MeasureName,
  MeasureStatistics,
  Statistic,
  StatValue,
  YesNoUnknown,
} from '../../compute/index.ts'
import type { ReportedDocument, SetDocument } from '../../domain/session-document.ts'
import type { ReportedDirection } from './prepared-session.ts'

type ReportedValue = ReportedDocument['values'][number]

const NOT_REPORTED: StatValue = { value: null, reason: 'not_reported' }
const OF_THE_SET: readonly MeasureName[] = ['totalWork', 'fatigueIndexEdges', 'workFatigueThirds', 'fatigueSlope']

export function reportedDirections(
  reported: ReportedDocument,
  directions: readonly DirectionProtocol[],
  repetitionNotes: NonNullable<SetDocument['repetitionNotes']>,
  bodyMassKg: number | null,
): readonly ReportedDirection[] {
  return directions.map((direction) => {
    const values = reported.values.filter(
      (value) =>
        value.movement === direction.movement &&
        (value.contractionMode === undefined || value.contractionMode === direction.contractionMode),
    )
    return {
      ...direction,
      repetitions: [],
      counted: null,
      notCounted: repetitionNotes
        .filter((note) => note.count === 'no')
        .map(({ repetition, reason }) => ({ repetition, reason })),
      measures: Object.fromEntries(
        MEASURE_NAMES.map((measure) => [measure, statisticsOf(measure, values, bodyMassKg)]),
      ),
      torqueAtAngle: torqueAtAngles(values),
    }
  })
}

/** What must be said about values whose making nobody described; of a movement without values there is nothing to say. */
export function reportedFindings(
  reported: ReportedDocument,
  directions: readonly Pick<DirectionProtocol, 'movement'>[],
): readonly Finding[] {
  const findings: Omit<Finding, 'movement'>[] = []
  if ([reported.torqueState, reported.deviceFilter, reported.deviceWindowing].includes('unknown')) {
    const detail = 'Filter, load range or gravity correction of the reported values are unknown.'
    findings.push({ code: 'processing_unknown', level: 'caution', detail })
  }
  if (reported.torqueState === 'measured') {
    const detail = 'The reported values are not corrected for gravity.'
    findings.push({ code: 'not_gravity_corrected', level: 'caution', detail })
  }
  const told = new Set(reported.values.map(({ movement }) => movement))
  if (directions.every(({ movement }) => told.has(movement))) return findings
  return findings.flatMap((finding) => [...told].map((movement) => ({ ...finding, movement })))
}

export function gravityCorrectedOf(reported: ReportedDocument): YesNoUnknown {
  return ({ measured: 'no', gravity_corrected: 'yes', unknown: 'unknown' } as const)[reported.torqueState]
}

function statisticsOf(
  measure: MeasureName,
  values: readonly ReportedValue[],
  bodyMassKg: number | null,
): MeasureStatistics {
  const statistics: readonly Statistic[] = OF_THE_SET.includes(measure)
    ? ['total']
    : ['best', 'mean', 'coefficientOfVariation']
  return Object.fromEntries(
    statistics.map((statistic) => {
      const value = values.find((each) => each.measure === measure && each.statistic === statistic)
      if (value !== undefined) return [statistic, inMeasureUnit(value)]
      return [statistic, derivedPerBodyMass(measure, statistic, values, bodyMassKg) ?? NOT_REPORTED]
    }),
  )
}

const TOTAL_OF: Partial<Record<MeasureName, MeasureName>> = {
  peakTorquePerBodyMass: 'peakTorque',
  workPerBodyMass: 'workPerRepetition',
  averagePowerPerBodyMass: 'averagePower',
}

/** Per kilogram where the device told the whole; a variation in percent is that of the whole and needs no second copy. */
function derivedPerBodyMass(
  measure: MeasureName,
  statistic: Statistic,
  values: readonly ReportedValue[],
  bodyMassKg: number | null,
): StatValue | null {
  const whole = values.find((each) => each.measure === TOTAL_OF[measure] && each.statistic === statistic)
  if (whole === undefined || statistic === 'coefficientOfVariation') return null
  const value = perBodyMass(inMeasureUnit(whole), bodyMassKg)
  return value.value === null ? value : { ...value, derived: 'from_reported_value' }
}

function torqueAtAngles(values: readonly ReportedValue[]): ReportedDirection['torqueAtAngle'] {
  const ofAngles = values.filter((value) => value.measure === 'torqueAtAngle')
  const angles = [...new Set(ofAngles.flatMap((value) => value.angle?.canonicalValue ?? []))].sort((a, b) => a - b)
  return angles.map((angleDeg) => {
    const statistic = (name: 'best' | 'mean'): StatValue => {
      const value = ofAngles.find((each) => each.angle?.canonicalValue === angleDeg && each.statistic === name)
      return value === undefined ? NOT_REPORTED : inMeasureUnit(value)
    }
    return { angleDeg, best: statistic('best'), mean: statistic('mean') }
  })
}

function inMeasureUnit({ measure, quantity }: ReportedValue): StatValue {
  return { value: convert(quantity.value, quantity.unit, MEASURE_UNITS[measure]) }
}

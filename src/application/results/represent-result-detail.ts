/** One result followed back to where it comes from: repetitions, parameters, setup, recording, version of the session. */
import { MEASURE_UNITS, type Measured, type RepetitionResult } from '../../compute/index.ts'
import type { FlagRow } from '../../store/flag-store.ts'
import type { JudgedResultRow, Provenance } from '../../store/result-store.ts'
import { flagsOf } from '../judgement/history.ts'
import { representFlag } from '../flags/represent-flag.ts'
import { representResult } from './represent-result.ts'

export function representResultDetail(
  row: JudgedResultRow,
  provenance: Provenance,
  flags: readonly FlagRow[],
  knownAt: Date,
) {
  const result = representResult(row, flags, knownAt)
  const { list } = row.repetitions as { list: readonly RepetitionResult[] }
  return {
    ...result,
    repetitions: { ...result.repetitions, list: list.map(representRepetition) },
    subjectId: row.subjectId,
    session: { id: row.sessionId, version: row.sessionVersion, startedAt: row.startedAt },
    setup: { id: provenance.setupId, key: provenance.setupKey },
    recordingSha256: provenance.recordingSha === null ? null : hex(provenance.recordingSha),
    parameters: provenance.params as Record<string, unknown>,
    parametersSha256: hex(provenance.paramsHash),
    bodyMass: row.bodyMassKg === null ? null : { value: row.bodyMassKg, unit: 'kg' },
    flags: flagsOf({ flags }, row).map(representFlag),
    recordedAt: row.recordedAt.toISOString(),
  }
}

export type ResultDetail = ReturnType<typeof representResultDetail>

function representRepetition(repetition: RepetitionResult) {
  const { loadRange, reason } = repetition
  return {
    repetition: repetition.repetition,
    counted: repetition.counted,
    ...(reason === null ? {} : { reason }),
    start: inUnit(repetition.startS, 's'),
    end: inUnit(repetition.endS, 's'),
    contraction: repetition.contraction,
    loadRange:
      loadRange === null
        ? null
        : {
            start: inUnit(loadRange.startS, 's'),
            end: inUnit(loadRange.endS, 's'),
            startAngle: inUnit(loadRange.startAngleDeg, 'deg'),
            endAngle: inUnit(loadRange.endAngleDeg, 'deg'),
          },
    rise: measuredIn(repetition.riseMs, 'ms'),
    deceleration: measuredIn(repetition.decelerationMs, 'ms'),
    measures: Object.fromEntries(
      Object.entries(repetition.measures).map(([name, value]) => [
        name,
        measuredIn(value, MEASURE_UNITS[name as keyof typeof repetition.measures]),
      ]),
    ),
    torqueAtAngle: repetition.torqueAtAngle.map(({ angleDeg, torque }) => ({
      angle: inUnit(angleDeg, 'deg'),
      torque: measuredIn(torque, MEASURE_UNITS.torqueAtAngle),
    })),
    rateOfTorqueDevelopment: repetition.rateOfTorqueDevelopment.map(({ windowMs, rate }) => ({
      window: inUnit(windowMs, 'ms'),
      rate: measuredIn(rate, MEASURE_UNITS.rateOfTorqueDevelopment),
    })),
    peakRateOfTorqueDevelopment: measuredIn(
      repetition.peakRateOfTorqueDevelopment,
      MEASURE_UNITS.rateOfTorqueDevelopment,
    ),
    flags: repetition.flags,
  }
}

const inUnit = (value: number, unit: string) => ({ value, unit })
const measuredIn = (measured: Measured, unit: string) => ({ ...measured, unit })
const hex = (bytes: Uint8Array): string => Buffer.from(bytes).toString('hex')

/** What makes a start value doubtful. Said beside the values; nothing is hidden because of it. */
import { calendarDayNumber } from '../../compute/index.ts'
import { setupFaults } from '../sessions/check-description.ts'
import type { PreparedSetup } from '../prepare-session/prepared-session.ts'
import type { NextSetupRecord } from './load-next-setup.ts'
import { stateOf } from './represent-reference-setup.ts'
import type { StartValues } from './start-values.ts'

export interface NextSetupWarning {
  readonly code: string
  readonly message: string
}

/** Half a year: bodies, machines and habits change. Common practice, no source. */
const OLD_AFTER_DAYS = 182

export function nextSetupWarnings(record: NextSetupRecord, start: StartValues, on: string): NextSetupWarning[] {
  const { reference, last, elsewhere, dynamometer } = record
  const source = reference ?? last
  const own = source === null ? [] : sourceWarnings(record, on)
  const warnings: (NextSetupWarning | null)[] = [
    reference === null ? warning('no_reference', 'No setup is pinned for this limb on this machine.') : null,
    source === null && elsewhere !== null
      ? warning('other_dynamometer', `The last test of this limb, on ${elsewhere.row.startedAt.slice(0, 10)}, was made on another machine: its dials do not carry over.`) // prettier-ignore
      : null,
    start.settings.some(({ origin }) => origin.startsWith('mirrored'))
      ? warning('mirrored', 'Some values come from the other limb, mirrored as the description says.')
      : null,
    start.settings.some(({ value }) => value === null)
      ? warning('start_value_unknown', 'Some dials have no start value: none was recorded.')
      : null,
    ...own,
    calibrationWarning(record, on),
  ]
  const described = source === null ? [] : setupFaults(source.setup, dynamometer.description, [])
  if (described.length > 0) {
    warnings.push(warning('not_in_description', 'Some recorded values are not in the description of the machine any more.')) // prettier-ignore
  }
  return warnings.filter((one) => one !== null)
}

function sourceWarnings({ reference, last, dynamometer }: NextSetupRecord, on: string): (NextSetupWarning | null)[] {
  const source = reference ?? last
  if (source === null) return []
  const testedOn = source.row.startedAt.slice(0, 10)
  const days = calendarDayNumber(on) - calendarDayNumber(testedOn)
  return [
    source.row.descriptionVersion === dynamometer.version
      ? null
      : warning('description_changed', `Recorded under version ${source.row.descriptionVersion ?? 'unknown'} of the description; version ${dynamometer.version} is in force.`), // prettier-ignore
    days > OLD_AFTER_DAYS ? warning('old', `These values are of ${testedOn}, ${days} days ago.`) : null,
    axisWarning(source.setup.axisCheck, (source.row.findings as PreparedSetup).axisOffset.verdict),
    reference === null ? null : changedSince(stateOf(reference.reference)),
  ]
}

function axisWarning(
  check: { status: string; padTravel?: string | undefined } | undefined,
  verdict: string,
): NextSetupWarning | null {
  if (check === undefined || check.status === 'not_performed') {
    return warning('axis_not_checked', 'The axis was not checked when these values were recorded.')
  }
  if (verdict === 'beyond_tolerance' || check.padTravel === 'clear') {
    return warning('axis_not_agreeing', 'The axes did not agree when these values were recorded: start there, do not stop there.') // prettier-ignore
  }
  return null
}

function changedSince(state: ReturnType<typeof stateOf>): NextSetupWarning | null {
  switch (state) {
    case 'as_pinned':
      return null
    case 'amended_since':
      return warning(
        'reference_amended',
        'The session that was pinned has been amended since: look at it, and pin anew.',
      )
    case 'withdrawn_since':
      return warning('reference_withdrawn', 'The session that was pinned was entered in error: pin another one.')
  }
}

function calibrationWarning({ calibration }: NextSetupRecord, on: string): NextSetupWarning | null {
  if (calibration === null) return warning('calibration_unknown', 'No calibration check of this machine is on record.')
  const { nextDueOn } = calibration
  return nextDueOn !== null && nextDueOn < on
    ? warning('calibration_overdue', `The calibration check of this machine was due on ${nextDueOn}.`)
    : null
}

const warning = (code: string, message: string): NextSetupWarning => ({ code, message })

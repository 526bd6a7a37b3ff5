/** What makes a start value doubtful. Said beside the values; nothing is hidden because of it. */
import { calendarDayNumber } from '../../compute/index.ts'
import type { SetupDocument } from '../../domain/session-document.ts'
import type { ReadSetup } from '../judgement/reference-setup.ts'
import { driftBeyondLimit } from '../dynamometers/calibration-drift.ts'
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
  const { reference, last, otherReference, otherLast, dynamometer } = record
  const pinned = reference ?? (last === null ? otherReference : null)
  const source = reference ?? last ?? otherReference ?? otherLast
  const warnings: (NextSetupWarning | null)[] = [
    reference === null ? warning('no_reference', 'No setup is pinned for this limb on this machine.') : null,
    elsewhereWarning(record),
    start.settings.some(({ origin }) => origin.startsWith('mirrored'))
      ? warning('mirrored', 'Some values come from the other limb, mirrored as the description says.')
      : null,
    start.settings.some(({ value }) => value === null)
      ? warning('start_value_unknown', 'Some dials have no start value: none was recorded.')
      : null,
    ...(source === null ? [] : sourceWarnings(source, dynamometer.version, on)),
    pinned === null ? null : changedSince(stateOf(pinned.reference)),
    calibrationWarning(record, on),
    driftWarning(record),
  ]
  const described = source === null ? [] : setupFaults(source.setup, dynamometer.description, [])
  if (described.length > 0) {
    warnings.push(warning('not_in_description', 'Some recorded values are not in the description of the machine any more.')) // prettier-ignore
  }
  return warnings.filter((one) => one !== null)
}

function elsewhereWarning({ reference, last, elsewhere }: NextSetupRecord): NextSetupWarning | null {
  if (elsewhere === null) return null
  const here = last ?? reference
  if (here !== null && here.row.testedAt >= elsewhere.row.testedAt) return null
  const found = `The last test of this limb, on ${elsewhere.row.startedAt.slice(0, 10)}, was made on another machine`
  return warning('other_dynamometer', here === null ? `${found}: its dials do not carry over.` : `${found}: what it found need not compare with a test on this one.`) // prettier-ignore
}

/** Of the setup that most values come from, whichever limb it was. */
function sourceWarnings(source: ReadSetup, version: number, on: string): (NextSetupWarning | null)[] {
  const testedOn = source.row.startedAt.slice(0, 10)
  const days = calendarDayNumber(on) - calendarDayNumber(testedOn)
  return [
    source.row.descriptionVersion === version
      ? null
      : warning('description_changed', `Recorded under version ${source.row.descriptionVersion ?? 'unknown'} of the description; version ${version} is in force.`), // prettier-ignore
    days > OLD_AFTER_DAYS ? warning('old', `These values are of ${testedOn}, ${days} days ago.`) : null,
    axisWarning(source.setup.axisCheck, (source.row.findings as PreparedSetup).axisOffset.verdict),
  ]
}

function axisWarning(check: SetupDocument['axisCheck'], verdict: string): NextSetupWarning | null {
  if (check === undefined || check.status === 'not_performed') {
    return warning('axis_not_checked', 'The axis was not checked when these values were recorded.')
  }
  if (check.afterLastAdjustment === 'no') {
    return warning('axis_not_checked', 'Something was moved after the axis was checked: that check says nothing about these values.') // prettier-ignore
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

function driftWarning({ calibration }: NextSetupRecord): NextSetupWarning | null {
  const beyond = calibration === null ? null : driftBeyondLimit(calibration)
  if (beyond === null) return null
  return warning('calibration_drift', `The last calibration check was off by ${beyond.percent.toFixed(1)} %; the clinic allows ${beyond.largestPercent} %.`) // prettier-ignore
}

const warning = (code: string, message: string): NextSetupWarning => ({ code, message })

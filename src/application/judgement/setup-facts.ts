/** What a setup as recorded says of itself, apart from the test made in it: what is held against a reference setup. */
import { convert, movementPair, type ComparabilityFacts, type Movement, type SettingFact } from '../../compute/index.ts'
import { toleranceOf, type DynamometerDescription, type SettingDescription } from '../../domain/dynamometer-document.ts'
import type { SettingValue, SetupDocument } from '../../domain/session-document.ts'
import type { AxisOffset } from '../prepare-session/prepared-session.ts'

export type SetupFacts = Pick<
  ComparabilityFacts,
  | 'joint'
  | 'dynamometerId'
  | 'deviceFamily'
  | 'descriptionVersion'
  | 'attachment'
  | 'leverArmMm'
  | 'padMountedOn'
  | 'bodyPosition'
  | 'settings'
  | 'trunkStraps'
  | 'thighStrap'
  | 'otherLimbStabiliser'
  | 'lumbarSupport'
  | 'hands'
  | 'stops'
  | 'anatomicalZero'
  | 'axis'
>

export interface DynamometerContext {
  readonly dynamometerId: string | null
  readonly description: DynamometerDescription | null
  readonly descriptionVersion: number | null
}

export function setupFacts(
  setup: SetupDocument,
  movement: Movement,
  axisOffset: AxisOffset,
  context: DynamometerContext,
): SetupFacts {
  const { stabilisation, attachment, anatomicalZero } = setup
  return {
    joint: setup.joint,
    dynamometerId: context.dynamometerId,
    deviceFamily: context.description?.deviceFamily ?? null,
    descriptionVersion: context.descriptionVersion,
    attachment: attachment?.key ?? null,
    leverArmMm: attachment?.leverArmLength === undefined ? null : attachment.leverArmLength.canonicalValue * 1000,
    padMountedOn: recorded(attachment?.padMountedOn) as SetupFacts['padMountedOn'],
    bodyPosition: setup.bodyPosition,
    settings: [
      ...settingFacts(setup.settings ?? {}, context.description),
      ...optionalPartFacts(setup.optionalParts ?? {}, context.description),
    ],
    trunkStraps: recorded(stabilisation?.trunkStraps),
    thighStrap: recorded(stabilisation?.thighStrap),
    otherLimbStabiliser: recorded(stabilisation?.otherLimbStabiliser),
    lumbarSupport: recorded(stabilisation?.lumbarSupport),
    hands: recorded(stabilisation?.hands),
    stops: stopsOf(setup.stops, movement),
    anatomicalZero:
      anatomicalZero === undefined
        ? null
        : {
            readingDeg: anatomicalZero.reading.canonicalValue,
            afterLastAdjustment: anatomicalZero.afterLastAdjustment,
          },
    axis: axisOf(setup.axisCheck, axisOffset),
  }
}

/** not_recorded and absence are the same: unknown. */
export function recorded(word: string | undefined): string | null {
  return word === undefined || word === 'not_recorded' ? null : word
}

function stopsOf(stops: SetupDocument['stops'], movement: Movement): ComparabilityFacts['stops'] {
  const [first, second] = movementPair(movement)
  const [a, b] = [stops?.[first], stops?.[second]]
  return a === undefined || b === undefined ? null : { firstDeg: a.canonicalValue, secondDeg: b.canonicalValue }
}

function axisOf(check: SetupDocument['axisCheck'], axisOffset: AxisOffset): ComparabilityFacts['axis'] {
  if (check === undefined || check.status === 'not_performed') return null
  // A check that something moved after is as good as none
  if (check.afterLastAdjustment === 'no') return null
  const { forwardMm, upMm, halfWidthMm } = axisOffset
  return {
    padTravel: check.padTravel ?? null,
    offset: forwardMm === null || upMm === null || halfWidthMm === null ? null : { forwardMm, upMm, halfWidthMm },
  }
}

/** Every dial of the description, whether it was recorded or not; without a description, what was sent. */
function settingFacts(
  values: Readonly<Record<string, SettingValue>>,
  description: DynamometerDescription | null,
): readonly SettingFact[] {
  if (description === null) {
    return Object.entries(values).map(([key, value]) => ({
      key,
      factor: null,
      value: settingValue(value, null),
      tolerance: null,
      effectBeyondTolerance: 'caution',
      affects: 'all',
      mirror: 'same',
    }))
  }
  return description.settings.map((setting) => {
    const value = values[setting.key]
    return {
      key: setting.key,
      factor: setting.factor ?? null,
      value: value === undefined ? null : settingValue(value, setting),
      tolerance: toleranceOf(setting),
      effectBeyondTolerance: setting.effectBeyondTolerance,
      affects: setting.affects,
      mirror: setting.mirror,
    }
  })
}

/** Beside straps and supports a machine may have parts of its own; the clinic says what their difference does. */
function optionalPartFacts(
  parts: NonNullable<SetupDocument['optionalParts']>,
  description: DynamometerDescription | null,
): readonly SettingFact[] {
  return (description?.optionalParts ?? []).map(({ key, affects, effectOfDifference }) => {
    const use = recorded(parts[key])
    return {
      key,
      factor: null,
      value: use === null ? null : { kind: 'choice', choice: use },
      tolerance: null,
      effectBeyondTolerance: effectOfDifference,
      affects,
      mirror: 'same',
    }
  })
}

function settingValue(value: SettingValue, setting: SettingDescription | null): SettingFact['value'] {
  if (typeof value === 'boolean') return { kind: 'boolean', on: value }
  if (typeof value === 'string') return { kind: 'choice', choice: value }
  if ('mark' in value) {
    const ordered = setting?.kind === 'scaleMark' && setting.ordered
    return { kind: 'scale_mark', ...value, position: ordered ? setting.marks.indexOf(value.mark) : null }
  }
  if (setting?.kind !== 'quantity') return { kind: 'quantity', value: value.value, unit: value.unit }
  return { kind: 'quantity', value: convert(value.value, value.unit, setting.unit), unit: setting.unit }
}

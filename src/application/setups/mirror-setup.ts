/** How a setup carries over to the other limb: as the clinic describes each of its dials, and the body's own symmetry. */
import type { Side } from '../../compute/index.ts'
import type { DynamometerDescription, SettingDescription } from '../../domain/dynamometer-document.ts'
import type { SettingValue, SetupDocument } from '../../domain/session-document.ts'

/** What can be put back. What must be measured anew (zero, weight, axis) is not part of it, on either side. */
export type Carried = Pick<
  SetupDocument,
  'bodyPosition' | 'settings' | 'attachment' | 'stabilisation' | 'optionalParts' | 'stops'
> & {
  /** Where the axis is looked for, not what was found there. */
  readonly axisLandmark?: NonNullable<SetupDocument['axisCheck']>['landmark']
}

export const otherSide = (side: Side): Side => (side === 'left' ? 'right' : 'left')

export function carriedOf(setup: SetupDocument): Carried {
  const { bodyPosition, settings, attachment, stabilisation, optionalParts, stops, axisCheck } = setup
  return {
    bodyPosition,
    ...(settings === undefined ? {} : { settings }),
    ...(attachment === undefined ? {} : { attachment }),
    ...(stabilisation === undefined ? {} : { stabilisation }),
    ...(optionalParts === undefined ? {} : { optionalParts }),
    ...(stops === undefined ? {} : { stops }),
    ...(axisCheck === undefined ? {} : { axisLandmark: axisCheck.landmark }),
  }
}

/** For the limb of side `to`. Mirrored back it is the original, apart from dials that have a value of their own per side. */
export function mirrorSetup(setup: Carried, description: DynamometerDescription, to: Side): Carried {
  const { settings, ...alike } = setup
  if (settings === undefined) return alike
  const mirrored = Object.entries(settings).flatMap(([key, value]) => {
    const setting = description.settings.find((one) => one.key === key)
    const there = setting === undefined ? null : mirrorSetting(value, setting, to)
    return there === null ? [] : [[key, there] as const]
  })
  return { ...alike, settings: Object.fromEntries(mirrored) }
}

/** null: the clinic says that this dial has a value of its own on each side. */
export function mirrorSetting(value: SettingValue, setting: SettingDescription, to: Side): SettingValue | null {
  if (setting.mirror === 'own_value') return null
  if (typeof value !== 'object') return value
  // Each side reads its own scale, which is the same one where the clinic has only one
  if ('mark' in value) return setting.kind === 'scaleMark' ? { scale: setting.scales[to], mark: value.mark } : null
  if (setting.mirror !== 'negated') return value
  return { ...value, value: negated(value.value), canonicalValue: negated(value.canonicalValue) }
}

/** 0 mirrored is 0, not -0. */
const negated = (value: number): number => (value === 0 ? 0 : -value)

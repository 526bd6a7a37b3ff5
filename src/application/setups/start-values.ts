/**
 * Where each dial starts next time, and where that value comes from. First what was pinned for this limb on this machine; else
 * the last visit; else the other limb, mirrored as the clinic describes; else the description's own start value.
 */
import type { Side } from '../../compute/index.ts'
import type { DynamometerDescription, SettingDescription } from '../../domain/dynamometer-document.ts'
import type { SettingValue, SetupDocument } from '../../domain/session-document.ts'
import { carriedOf, mirrorSetup, type Carried } from './mirror-setup.ts'

export type Origin =
  | 'plan'
  | 'reference'
  | 'last_session'
  | 'mirrored_reference'
  | 'mirrored_last_session'
  | 'description_default'
  | 'rule_of_thumb'
  | 'unknown'

export interface SetupSources {
  /** Of this limb on this machine. */
  readonly reference: SetupDocument | null
  readonly last: SetupDocument | null
  /** Of the other limb on this machine. */
  readonly otherReference: SetupDocument | null
  readonly otherLast: SetupDocument | null
}

export interface Started<T> {
  readonly value: T | null
  readonly origin: Origin
}

export class StartValues {
  readonly #candidates: readonly { readonly origin: Origin; readonly setup: Carried }[]
  readonly #description: DynamometerDescription
  readonly #side: Side

  constructor(sources: SetupSources, description: DynamometerDescription, side: Side) {
    const mirrored = (setup: SetupDocument | null): Carried | null =>
      setup === null ? null : mirrorSetup(carriedOf(setup), description, side)
    const own = (setup: SetupDocument | null): Carried | null => (setup === null ? null : carriedOf(setup))
    const all: readonly (readonly [Origin, Carried | null])[] = [
      ['reference', own(sources.reference)],
      ['last_session', own(sources.last)],
      ['mirrored_reference', mirrored(sources.otherReference)],
      ['mirrored_last_session', mirrored(sources.otherLast)],
    ]
    this.#candidates = all.flatMap(([origin, setup]) => (setup === null ? [] : [{ origin, setup }]))
    this.#description = description
    this.#side = side
  }

  /** The first source that has it; a value that the reference lacks may still be known from the last visit. */
  of<T>(read: (setup: Carried) => T | undefined): Started<T> {
    for (const { origin, setup } of this.#candidates) {
      const value = read(setup)
      if (value !== undefined && value !== 'not_recorded') return { value, origin }
    }
    return { value: null, origin: 'unknown' }
  }

  setting(setting: SettingDescription): Started<SettingValue> {
    const found = this.of((setup) => setup.settings?.[setting.key])
    if (found.value !== null) return found
    const start = startOf(setting, this.#side)
    return start === undefined ? found : { value: start, origin: 'description_default' }
  }

  get settings(): readonly (Started<SettingValue> & { readonly setting: SettingDescription })[] {
    return this.#description.settings.map((setting) => ({ setting, ...this.setting(setting) }))
  }
}

/** A start value that is negated for the other limb is written for the right one. */
function startOf(setting: SettingDescription, side: Side): SettingValue | undefined {
  switch (setting.kind) {
    case 'quantity': {
      const { startValue } = setting
      if (startValue === undefined || setting.mirror !== 'negated' || side === 'right') return startValue
      const [value, canonicalValue] = [startValue.value, startValue.canonicalValue].map((n) => (n === 0 ? 0 : -n))
      return { ...startValue, value: value ?? 0, canonicalValue: canonicalValue ?? 0 }
    }
    case 'scaleMark':
      return setting.startMark === undefined ? undefined : { scale: setting.scales[side], mark: setting.startMark }
    case 'choice':
      return setting.startChoice
    case 'boolean':
      return setting.startsOn
  }
}

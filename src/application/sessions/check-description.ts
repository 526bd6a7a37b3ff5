/** A setup against the clinic's own description of its machine: what can't be set there can't have been set. */
import { convert, unitKind } from '../../compute/index.ts'
import { isOnStep, type DynamometerDescription, type SettingDescription } from '../../domain/dynamometer-document.ts'
import type { FieldFault } from '../../domain/errors.ts'
import { jsonPointer, type JsonPath } from '../../domain/json-pointer.ts'
import type { SettingValue } from '../../domain/session-document.ts'
import type { PreparedDocument } from '../prepare-session/prepared-session.ts'

type Setup = Pick<PreparedDocument['setups'][number], 'side' | 'settings' | 'attachment' | 'optionalParts' | 'planned'>

export function descriptionFaults(
  setups: readonly Setup[],
  description: DynamometerDescription,
  at: JsonPath = [],
): FieldFault[] {
  return setups.flatMap((setup, index) => {
    const path = [...at, 'setups', index]
    return setupFaults(setup, description, path)
  })
}

/** As set and as planned: neither can leave the description. */
export function setupFaults(setup: Setup, description: DynamometerDescription, path: JsonPath): FieldFault[] {
  const { side, attachment, planned } = setup
  const settings = (values: Setup['settings'], at: JsonPath): FieldFault[] =>
    Object.entries(values ?? {}).flatMap(
      ([key, value]) =>
      settingFaults(value, description.settings.find((s) => s.key === key), side, [...at, 'settings', key]), // prettier-ignore
    )
  const parts = (used: Setup['optionalParts'], at: JsonPath): FieldFault[] =>
    Object.keys(used ?? {})
      .filter((key) => !description.optionalParts.some((part) => part.key === key))
      .map((key) => ({
        pointer: jsonPointer([...at, 'optionalParts', key]),
        code: 'not_in_description',
        message: 'The description of the dynamometer has no such part.',
      }))
  const plannedAt = [...path, 'planned']
  // A plan that names no attachment means its arm for the one that was set
  const plannedKey = planned?.attachment ?? attachment?.key
  return [
    ...settings(setup.settings, path),
    ...(attachment === undefined ? [] : attachmentFaults(attachment.key, description, [...path, 'attachment', 'key'])),
    ...armFaults(attachment?.key, attachment?.leverArmLength, description, [...path, 'attachment']),
    ...parts(setup.optionalParts, path),
    ...settings(planned?.settings, plannedAt),
    ...(planned?.attachment === undefined
      ? []
      : attachmentFaults(planned.attachment, description, [...plannedAt, 'attachment'])),
    ...armFaults(plannedKey, planned?.leverArmLength, description, plannedAt),
    ...parts(planned?.optionalParts, plannedAt),
  ]
}

function settingFaults(
  value: SettingValue,
  setting: SettingDescription | undefined,
  side: 'left' | 'right',
  path: JsonPath,
): FieldFault[] {
  const fault = (message: string, step: string | null = null): FieldFault[] => [
    { pointer: jsonPointer(step === null ? path : [...path, step]), code: 'not_in_description', message },
  ]
  if (setting === undefined) return fault('The description of the dynamometer has no such setting.')
  switch (setting.kind) {
    case 'boolean':
      return typeof value === 'boolean' ? [] : fault('This setting is true or false.')
    case 'choice':
      if (typeof value !== 'string') return fault('This setting is one of the choices of the description.')
      return setting.choices.includes(value) ? [] : fault(`The choices are ${setting.choices.join(', ')}.`)
    case 'scaleMark':
      if (typeof value !== 'object' || !('mark' in value)) return fault('This setting is a mark on a scale.')
      return [
        ...(value.scale === setting.scales[side] ? [] : fault(`The scale of this side is ${setting.scales[side]}.`, 'scale')), // prettier-ignore
        ...(setting.marks.includes(value.mark) ? [] : fault(`The marks are ${setting.marks.join(', ')}.`, 'mark')),
      ]
    case 'quantity':
      return quantityFaults(value, setting, fault)
  }
}

function quantityFaults(
  value: SettingValue,
  setting: Extract<SettingDescription, { kind: 'quantity' }>,
  fault: (message: string, step?: string | null) => FieldFault[],
): FieldFault[] {
  if (typeof value !== 'object' || 'mark' in value) return fault(`This setting is a quantity in ${setting.unit}.`)
  if (unitKind(value.unit) !== unitKind(setting.unit)) return fault(`This setting is given in ${setting.unit}.`, 'unit')
  const { low, high } = setting.range
  const read = convert(value.value, value.unit, setting.unit)
  const slack = 1e-9 * Math.max(1, Math.abs(low), Math.abs(high))
  if (read < low - slack || read > high + slack)
    return fault(`The range is ${low} to ${high} ${setting.unit}.`, 'value')
  return isOnStep(read, setting) ? [] : fault(`The steps are ${setting.step} ${setting.unit} from ${low}.`, 'value')
}

function attachmentFaults(key: string, description: DynamometerDescription, path: JsonPath): FieldFault[] {
  if (description.attachments.some((one) => one.key === key)) return []
  const message = 'The description of the dynamometer has no such attachment.'
  return [{ pointer: jsonPointer(path), code: 'not_in_description', message }]
}

function armFaults(
  key: string | undefined,
  sent: NonNullable<Setup['attachment']>['leverArmLength'],
  description: DynamometerDescription,
  path: JsonPath,
): FieldFault[] {
  const arm = description.attachments.find((one) => one.key === key)?.leverArmLength
  const length = sent?.canonicalValue
  if (arm === undefined || length === undefined) return []
  if (length >= arm.low.canonicalValue - 1e-9 && length <= arm.high.canonicalValue + 1e-9) return []
  const message = `The lever arm of this attachment is ${arm.low.canonicalValue} to ${arm.high.canonicalValue} m.`
  return [{ pointer: jsonPointer([...path, 'leverArmLength', 'value']), code: 'not_in_description', message }]
}

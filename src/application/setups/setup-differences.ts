/** What the last visit did otherwise than the pinned setup: seen before it is repeated, and with the reason given then. */
import { convert, unitKind } from '../../compute/index.ts'
import type { SetupDocument } from '../../domain/session-document.ts'
import type { NextSetupRecord } from './load-next-setup.ts'

export interface SetupDifference {
  readonly what: string
  readonly reference: string | null
  readonly lastSession: string | null
  /** The word the last visit gave for it, where it was planned otherwise. */
  readonly reason: string | null
}

export function differencesFromReference({ reference, last, dynamometer }: NextSetupRecord): SetupDifference[] {
  if (reference === null) return []
  const differences: SetupDifference[] = []
  if (reference.row.descriptionVersion !== dynamometer.version) {
    const version = (value: number | null): string | null => (value === null ? null : `version ${value}`)
    differences.push({
      what: 'description',
      reference: version(reference.row.descriptionVersion),
      lastSession: version(dynamometer.version),
      reason: null,
    })
  }
  if (last === null || last.row.id === reference.row.id) return differences
  const [before, now] = [valuesOf(reference.setup), valuesOf(last.setup)]
  for (const what of new Set([...before.keys(), ...now.keys()])) {
    const [a, b] = [before.get(what), now.get(what)]
    if (same(a, b)) continue
    const reason = last.setup.deviations?.find(({ of }) => of === what)?.reason ?? null
    differences.push({ what, reference: text(a), lastSession: text(b), reason })
  }
  return differences
}

function valuesOf(setup: SetupDocument): Map<string, unknown> {
  const { settings = {}, stabilisation = {}, optionalParts = {}, stops = {}, attachment, bodyPosition } = setup
  const grouped = Object.entries({ settings, stabilisation, optionalParts, stops }).flatMap(([group, values]) =>
    Object.entries(values as object).map(([name, value]) => [`${group}/${name}`, value as unknown] as const),
  )
  return new Map<string, unknown>([
    ['bodyPosition', bodyPosition],
    ['attachment', attachment?.key],
    ['leverArmLength', attachment?.leverArmLength],
    ['padMountedOn', attachment?.padMountedOn],
    ['padLandmark', attachment?.padLandmark],
    ...grouped,
  ])
}

/** 0.3 m and 30 cm are the same. */
function same(a: unknown, b: unknown): boolean {
  const [x, y] = [quantityOf(a), quantityOf(b)]
  if (x !== null && y !== null && unitKind(x.unit) !== null && unitKind(x.unit) === unitKind(y.unit)) {
    return Math.abs(convert(x.value, x.unit, y.unit) - y.value) <= 1e-9 * Math.max(1, Math.abs(y.value))
  }
  return text(a) === text(b)
}

function quantityOf(value: unknown): { value: number; unit: string } | null {
  const found = (value ?? {}) as { value?: unknown; unit?: unknown }
  return typeof found.value === 'number' && typeof found.unit === 'string'
    ? { value: found.value, unit: found.unit }
    : null
}

function text(value: unknown): string | null {
  if (value === undefined || value === null || value === 'not_recorded') return null
  if (typeof value === 'boolean') return value ? 'yes' : 'no'
  if (typeof value === 'string') return value
  const quantity = quantityOf(value)
  if (quantity !== null) return `${quantity.value} ${quantity.unit}`
  const { scale, mark } = value as { scale?: string; mark?: string }
  return `${scale ?? ''} ${mark ?? ''}`.trim()
}

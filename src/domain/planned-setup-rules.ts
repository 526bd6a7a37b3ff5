/**
 * A setup as it was set against its own plan: a value that differs says why. What was planned and not recorded as set is
 * unknown, which is no deviation; the comparison with other tests takes it as unknown.
 */
import { unitKind } from '../compute/units/index.ts'
import type { JsonPath } from './json-pointer.ts'
import { canonicalValueOf } from './quantities.ts'

type Fields = Readonly<Record<string, unknown>>
type Report = (path: JsonPath, code: string, message: string) => void

const GROUPS = ['settings', 'stabilisation', 'optionalParts', 'stops'] as const

export function checkDeviations(setup: Fields, path: JsonPath, report: Report): void {
  const differing = new Set(plannedValues(setup).flatMap(({ of, planned, set }) => (differ(planned, set) ? [of] : [])))
  const explained = new Set<string>()
  const list = setup['deviations']
  ;(Array.isArray(list) ? list : []).forEach((entry, index) => {
    const of = fieldsOf(entry)['of']
    if (typeof of !== 'string') return
    const at = [...path, 'deviations', index, 'of']
    if (explained.has(of)) report(at, 'not_unique', 'This occurs twice in the list.')
    else if (!differing.has(of)) report(at, 'not_applicable', 'The value set does not differ from a planned one.')
    explained.add(of)
  })
  for (const of of differing) {
    if (!explained.has(of)) {
      const message = 'What was set differs from the plan: deviations says why.'
      report([...path, 'planned', ...of.split('/')], 'deviation_without_reason', message)
    }
  }
}

function plannedValues(setup: Fields): { of: string; planned: unknown; set: unknown }[] {
  const planned = fieldsOf(setup['planned'])
  const grouped = GROUPS.flatMap((group) =>
    Object.entries(fieldsOf(planned[group])).map(([name, value]) => ({
      of: `${group}/${name}`,
      planned: value,
      set: fieldsOf(setup[group])[name],
    })),
  )
  const attachment = fieldsOf(setup['attachment'])
  return [
    ...grouped,
    { of: 'attachment', planned: planned['attachment'], set: attachment['key'] },
    { of: 'leverArmLength', planned: planned['leverArmLength'], set: attachment['leverArmLength'] },
  ]
}

function differ(planned: unknown, set: unknown): boolean {
  if (planned === undefined || set === undefined || planned === 'not_recorded' || set === 'not_recorded') return false
  const unit = fieldsOf(planned)['unit']
  const kind = typeof unit === 'string' ? unitKind(unit) : null
  if (kind !== null) {
    const [a, b] = [canonicalValueOf(planned, kind), canonicalValueOf(set, kind)]
    // A value that is no quantity of this kind is refused elsewhere
    return a !== null && b !== null && Math.abs(a - b) > 1e-9 * Math.max(1, Math.abs(a))
  }
  const text = (value: unknown): string => {
    const { scale, mark } = fieldsOf(value)
    return JSON.stringify(scale === undefined ? value : [scale, mark])
  }
  return text(planned) !== text(set)
}

function fieldsOf(value: unknown): Fields {
  return typeof value === 'object' && value !== null && !Array.isArray(value) ? (value as Fields) : {}
}

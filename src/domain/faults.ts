/** From zod's issues to the faults of a refusal: a pointer, a stable code, a sentence; nothing personal is echoed. */
import type { z } from 'zod'
import type { FieldFault } from './errors.ts'
import { MAX_FAULTS } from './errors.ts'
import { jsonPointer, valueAt } from './json-pointer.ts'
import type { JsonPath } from './json-pointer.ts'

type Issue = z.core.$ZodIssue
type FaultBody = Omit<FieldFault, 'pointer'>

/** Adds one of our own faults to zod's issues; `toFaults` takes it back out whole. */
export function fail(context: z.core.$RefinementCtx, path: JsonPath, code: string, message: string): void {
  context.addIssue({ code: 'custom', path: [...path], message, params: { fault: { code, message } } })
}

/**
 * Every fault of a document, first 100. `document` is what was parsed: a field that is absent is told from one of a wrong type.
 * `at` is put before each path, for a document inside another.
 */
export function toFaults(error: z.ZodError, document: unknown, at: JsonPath = []): readonly FieldFault[] {
  return error.issues.flatMap((issue) => issueFaults(issue, document, at)).slice(0, MAX_FAULTS)
}

function issueFaults(issue: Issue, document: unknown, at: JsonPath): FieldFault[] {
  const path = issue.path.map((step) => (typeof step === 'symbol' ? String(step) : step))
  const full = [...at, ...path]
  if (issue.code === 'unrecognized_keys') {
    return issue.keys.map((key) => ({
      pointer: jsonPointer([...full, key]),
      code: 'unknown_field',
      message: 'This field is not known here.',
    }))
  }
  return [{ pointer: jsonPointer(full), ...describeIssue(issue, valueAt(document, path)) }]
}

function describeIssue(issue: Issue, received: unknown): FaultBody {
  if (received === undefined && issue.code !== 'custom') return { code: 'missing', message: 'This field is required.' }
  switch (issue.code) {
    case 'custom':
      return (issue.params?.['fault'] as FaultBody | undefined) ?? { code: 'invalid', message: issue.message }
    case 'invalid_type':
      return issue.expected === 'int'
        ? { code: 'not_an_integer', message: 'A whole number belongs here.' }
        : { code: 'wrong_type', message: `A value of type ${issue.expected} belongs here.` }
    case 'invalid_value':
      return describeEnumeration(issue.values.map(String), received)
    case 'too_small':
    case 'too_big':
      return describeSize(issue)
    case 'invalid_format':
      return {
        code: 'invalid_format',
        message: FORMATS[issue.format] ?? 'The text does not have the form that belongs here.',
      }
    case 'invalid_key':
      return { code: 'invalid_format', message: 'A key here is a camelCase word of up to 64 letters and digits.' }
    case 'not_multiple_of':
      return { code: 'out_of_range', message: `A multiple of ${issue.divisor} belongs here.` }
    case 'invalid_union':
      // A union told apart by one member; its path ends in that member
      return 'options' in issue && Array.isArray(issue.options)
        ? describeEnumeration(issue.options.map(String), received)
        : { code: 'invalid', message: 'The value does not have a form that is accepted here.' }
    case 'invalid_element':
    case 'unrecognized_keys':
      return { code: 'invalid', message: 'The value does not have a form that is accepted here.' }
  }
}

const FORMATS: Readonly<Record<string, string>> = {
  datetime: 'A date and time as in ISO 8601 with offset belongs here: 2026-11-17T09:05:00+01:00.',
  date: 'A date as in ISO 8601 belongs here: 2026-11-17.',
  uuid: 'A UUID belongs here.',
}

/** An enumeration is no one's name, so a short received word is echoed. */
function describeEnumeration(accepted: readonly string[], received: unknown): FaultBody {
  if (typeof received !== 'string')
    return { code: 'wrong_type', message: 'A word from the list belongs here.', accepted }
  const suggestion = nearest(received, accepted)
  return {
    code: 'not_in_list',
    message: 'This word is not in the list.',
    received: received.slice(0, 40),
    ...(suggestion === null ? {} : { suggestion }),
    accepted,
  }
}

function describeSize(issue: z.core.$ZodIssueTooSmall | z.core.$ZodIssueTooBig): FaultBody {
  const limit = issue.code === 'too_small' ? issue.minimum : issue.maximum
  const bound = issue.code === 'too_small' ? 'at least' : 'at most'
  switch (issue.origin) {
    case 'string':
      return { code: 'invalid_length', message: `The text must have ${bound} ${limit} characters.` }
    case 'array':
    case 'set':
    case 'map':
      return {
        code: issue.code === 'too_small' ? 'too_few' : 'too_many',
        message: `There must be ${bound} ${limit} here.`,
      }
    default:
      return { code: 'out_of_range', message: `The value must be ${bound} ${limit}.` }
  }
}

/** The accepted word at most two letters (a third of a short word) away, for a hint. */
export function nearest(word: string, accepted: readonly string[]): string | null {
  let best: string | null = null
  let bestDistance = Math.min(3, Math.ceil(word.length / 3) + 1)
  for (const candidate of word.length > 64 ? [] : accepted) {
    const distance = editDistance(word.toLowerCase(), candidate.toLowerCase())
    if (distance < bestDistance) [best, bestDistance] = [candidate, distance]
  }
  return best
}

/** Levenshtein distance, one row at a time. */
function editDistance(a: string, b: string): number {
  let row = Array.from({ length: b.length + 1 }, (_, column) => column)
  for (let i = 1; i <= a.length; i++) {
    const next = [i]
    for (let j = 1; j <= b.length; j++) {
      const substitution = (row[j - 1] ?? 0) + (a[i - 1] === b[j - 1] ? 0 : 1)
      next.push(Math.min(substitution, (row[j] ?? 0) + 1, (next[j - 1] ?? 0) + 1))
    }
    row = next
  }
  return row[b.length] ?? 0
}

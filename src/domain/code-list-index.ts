/**
 * Every list of code words under the key of its address: each list of code-lists.ts is one, so none can be forgotten.
 * The words that documents are answered with follow: flags, reasons, cautions, setup warnings.
 */
import * as lists from './code-lists.ts'
import { FLAG_CODES, SETUP_WARNING_CODES } from './flag-lists.ts'
import { CAUTION_CODES, REASON_CODES } from './reason-lists.ts'

export interface CodeListEntry extends lists.CodeEntry {
  readonly [extra: string]: unknown
}

export interface CodeList {
  readonly key: string
  readonly version: string
  /** Where the entries come from, where that is not this service. */
  readonly source?: string
  readonly entries: readonly CodeListEntry[]
}

const SOURCES: Readonly<Record<string, string>> = { SCREENING_QUESTIONS: lists.SCREENING_SOURCE }

const ANSWERED = {
  FLAGS: FLAG_CODES,
  REASONS: REASON_CODES,
  CAUTIONS: CAUTION_CODES,
  SETUP_WARNINGS: SETUP_WARNING_CODES,
} as const

export const CODE_LISTS: readonly CodeList[] = Object.entries({ ...lists, ...ANSWERED })
  .flatMap(([name, value]) => {
    const entries = entriesOf(name, value)
    const source = SOURCES[name]
    const key = name.toLowerCase().replaceAll('_', '-')
    return entries === null
      ? []
      : [{ key, version: lists.LIST_VERSION, ...(source === undefined ? {} : { source }), entries }]
  })
  .sort((a, b) => (a.key < b.key ? -1 : 1))

function entriesOf(name: string, value: unknown): readonly CodeListEntry[] | null {
  if (!Array.isArray(value) || name === 'LIST_VERSIONS') return null
  const entries = value as readonly (string | CodeListEntry)[]
  return entries.map((entry) => (typeof entry === 'string' ? { code: entry, label: inWords(entry) } : entry))
}

/** "external_rotation" and "peakTorque" are words of the trade already; they only need their spaces. */
function inWords(code: string): string {
  const words = code.replaceAll('_', ' ').replaceAll(/(?<=[a-z])[A-Z]/g, (letter) => ` ${letter.toLowerCase()}`)
  return words.charAt(0).toUpperCase() + words.slice(1)
}

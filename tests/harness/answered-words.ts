import { FLAG_CODES, SETUP_WARNING_CODES } from '../../src/domain/flag-lists.ts'
import { CAUTION_CODES, REASON_CODES } from '../../src/domain/reason-lists.ts'

const codes = (list: readonly { readonly code: string }[]): ReadonlySet<string> => new Set(list.map(({ code }) => code))

const FLAGS = codes(FLAG_CODES)
const REASONS = codes(REASON_CODES)
const CAUTIONS = codes(CAUTION_CODES)
const WARNINGS = codes(SETUP_WARNING_CODES)

/** What a reason stands beside where it is a code word; beside a date or a name it is somebody's own text. */
const EXPLAINED = ['value', 'verdict', 'counted', 'repetition', 'held', 'text', 'unit']

/** The flags, reasons, cautions and warnings of an answer that are in no code list, each with where it stands. */
export function wordsInNoList(answer: unknown, at = '#'): string[] {
  if (Array.isArray(answer)) return answer.flatMap((item, index) => wordsInNoList(item, `${at}/${index}`))
  if (typeof answer !== 'object' || answer === null) return []
  const document = answer as Readonly<Record<string, unknown>>
  const unlisted = (list: ReadonlySet<string>, key: string, word: unknown): string[] =>
    typeof word !== 'string' || list.has(word) ? [] : [`${at}/${key}: "${word}" is in no code list`]
  const each = (list: ReadonlySet<string>, key: string): string[] => {
    const words = document[key]
    return Array.isArray(words) ? words.flatMap((word, index) => unlisted(list, `${key}/${index}`, word)) : []
  }
  return [
    ...('level' in document ? unlisted(FLAGS, 'code', document['code']) : []),
    ...each(FLAGS, 'flags'),
    ...each(CAUTIONS, 'cautions'),
    ...('observed' in document ? each(CAUTIONS, 'notes') : []),
    ...(isExplained(document) ? unlisted(REASONS, 'reason', document['reason']) : []),
    ...unlisted(REASONS, 'intervalReason', document['intervalReason']),
    ...warningsOf(document).flatMap((warning) => unlisted(WARNINGS, 'warnings', warning['code'])),
    ...Object.entries(document).flatMap(([key, value]) => wordsInNoList(value, `${at}/${key}`)),
  ]
}

function isExplained(document: Readonly<Record<string, unknown>>): boolean {
  return EXPLAINED.some((key) => key in document) || document['kind'] === 'none' || Object.keys(document).length === 1
}

function warningsOf({ warnings }: Readonly<Record<string, unknown>>): readonly Readonly<Record<string, unknown>>[] {
  return Array.isArray(warnings) ? warnings.filter((one) => typeof one === 'object' && one !== null) : []
}

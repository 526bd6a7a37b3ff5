/**
 * The largest letters with which a sheet stays one sheet. The page may run no script, so its height is reckoned here: lines of
 * text by the width of a wide sans serif, against the measures of the style sheet; tried in a browser by the tests.
 */

/** Tenths of a point, largest first: each is a class of the style sheet. */
const SIZES = [110, 105, 100, 95, 90, 85, 80, 75, 70, 65, 60, 55] as const

interface SheetRow {
  readonly label: string
  /** In smaller letters, behind the label. */
  readonly origin: string
  /** null: the row has no start value, and more room for its label. */
  readonly value: string | null
  readonly words: boolean
}

export interface SheetText {
  readonly name: string
  /** Over the whole width, at the head or the foot. */
  readonly wide: readonly string[]
  /** Beside each other, in halves, above the tables. */
  readonly halves: readonly [readonly string[], readonly string[]]
  /** Below, flowing down the left half and then the right. */
  readonly tables: readonly (readonly SheetRow[])[]
  readonly lists: readonly (readonly string[])[]
}

/** A4 without its margins, less what a browser may round up. */
const SHEET_MM = 281 - 6
const WIDTH_MM = 194
const HALF_MM = (WIDTH_MM - 5) / 2
const LABEL_MM = HALF_MM - 10 - 27 - 21 - 2
const VALUE_MM = 27 - 2
const POINT_MM = 25.4 / 72
/** Mean width of a letter, of a wide face with the loss of broken lines; bold is wider. */
const LETTER_EM = 0.54
const BOLD_EM = 0.62
const LINE_EM = 1.2
const BOLD_LINE_EM = 1.05

export function sizeOf(text: SheetText): (typeof SIZES)[number] {
  return SIZES.find((size) => heightMm(text, (size / 10) * POINT_MM) <= SHEET_MM) ?? SIZES[SIZES.length - 1]!
}

function heightMm({ name, wide, halves, tables, lists }: SheetText, em: number): number {
  const lines = (letters: number, widthMm: number, letterEm = LETTER_EM): number =>
    Math.max(1, Math.ceil((letters * letterEm * em) / widthMm))
  const paragraphs = (texts: readonly string[], widthMm: number): number =>
    texts.reduce((sum, text) => sum + lines(text.length, widthMm - 1.4 * em) * LINE_EM * em + 0.24 * em, 0)
  const bold = (text: string, widthMm: number, size: number): number =>
    lines(text.length, widthMm, BOLD_EM * size) * size * BOLD_LINE_EM * em
  const row = ({ label, origin, value, words }: SheetRow): number => {
    const room = value === null ? LABEL_MM + VALUE_MM : LABEL_MM
    const start = value === null ? 0 : bold(value, VALUE_MM, words ? 1.05 : 1.5)
    return Math.max(lines(label.length + 0.79 * origin.length, room) * LINE_EM * em, start) + 0.24 * em + 0.3
  }
  const heading = 2 * em
  const table = (rows: readonly SheetRow[]): number => rows.reduce((sum, one) => sum + row(one), heading + 1.3 * em)
  const flow =
    tables.reduce((sum, rows) => sum + table(rows), 0) +
    lists.reduce((sum, texts) => sum + heading + paragraphs(texts, HALF_MM), 0)
  return (
    bold(name, WIDTH_MM * 0.6, 1.8) +
    paragraphs(wide, WIDTH_MM) +
    heading +
    Math.max(...halves.map((texts) => paragraphs(texts, HALF_MM))) +
    // The halves of the flow come out equal but for one row
    flow / 2 +
    Math.max(0, ...tables.flat().map(row))
  )
}

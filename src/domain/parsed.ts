/** A document as it came and as it is understood. What is stored is what was said; what is computed with is the reading. */
export interface Parsed<T> {
  readonly sent: unknown
  readonly value: T
}

/** Read when its turn comes: existence and version are judged before the body is. */
export type LazyDocument<T> = () => Parsed<T>

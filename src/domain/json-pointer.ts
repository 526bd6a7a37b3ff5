/** JSON pointers (RFC 6901) in URI fragment form, the way every fault names its field: "#/sets/2/recording". */
export type JsonPath = readonly (string | number)[]

export function jsonPointer(path: JsonPath): string {
  return path.reduce<string>((pointer, step) => `${pointer}/${escapeStep(String(step))}`, '#')
}

function escapeStep(step: string): string {
  return encodeURIComponent(step.toWellFormed().replaceAll('~', '~0').replaceAll('/', '~1'))
}

/** The value at a path, or undefined where the path leaves the document. Own properties only. */
export function valueAt(document: unknown, path: JsonPath): unknown {
  let value = document
  for (const step of path) {
    if (typeof value !== 'object' || value === null || !Object.hasOwn(value, step)) return undefined
    value = (value as Record<string | number, unknown>)[step]
  }
  return value
}

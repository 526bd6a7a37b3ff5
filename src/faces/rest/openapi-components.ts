/**
 * The generator writes every named shape twice, as read (`XInput`) and as answered (`X`). One name is kept where only one
 * of the two is used or both say the same; what nothing points at is left out; paths and shapes are in order of the
 * alphabet, so that the committed document changes only where the interface does.
 */
type Json = null | boolean | number | string | readonly Json[] | { readonly [key: string]: Json }
type JsonObject = { readonly [key: string]: Json }

const PREFIX = '#/components/schemas/'

export function tidyComponents<T>(document: T): T {
  const all = document as unknown as JsonObject
  const components = all['components'] as JsonObject
  const schemas = components['schemas'] as JsonObject
  const used = reachable(all['paths'] ?? {}, schemas)
  const names = plainNames(used, schemas)
  const kept = Object.fromEntries([...used].map((name) => [names.get(name) ?? name, schemas[name] ?? {}]))
  const paths = all['paths'] as JsonObject
  const tidy = {
    ...all,
    paths: inOrder(
      Object.fromEntries(Object.entries(paths).map(([path, item]) => [path, inOrder(item as JsonObject)])),
    ),
    components: { ...components, schemas: inOrder(kept) },
  }
  return rename(tidy, names) as unknown as T
}

function reachable(from: Json, schemas: JsonObject): Set<string> {
  const found = new Set<string>()
  const walk = (value: Json): void => {
    if (Array.isArray(value)) value.forEach(walk)
    else if (isObject(value)) {
      for (const [key, child] of Object.entries(value)) {
        const name = key === '$ref' ? shapeName(child) : null
        if (name === null) walk(child)
        else if (!found.has(name)) {
          found.add(name)
          walk(schemas[name] ?? {})
        }
      }
    }
  }
  walk(from)
  return found
}

/** Begins with every pair as one and takes apart what differs, until nothing more does. */
function plainNames(used: ReadonlySet<string>, schemas: JsonObject): ReadonlyMap<string, string> {
  const names = new Map([...used].map((name) => [name, name.replace(/Input$/, '')]))
  for (let changed = true; changed;) {
    changed = false
    for (const [name, plain] of names) {
      if (name === plain || !used.has(plain)) continue
      const alike = JSON.stringify(rename(schemas[name] ?? null, names)) === JSON.stringify(rename(schemas[plain] ?? null, names)) // prettier-ignore
      if (alike) continue
      names.set(name, name)
      changed = true
    }
  }
  return names
}

function rename(value: Json, names: ReadonlyMap<string, string>): Json {
  if (Array.isArray(value)) return value.map((one: Json) => rename(one, names))
  if (!isObject(value)) return value
  return Object.fromEntries(
    Object.entries(value).map(([key, child]) => {
      const name = key === '$ref' ? shapeName(child) : null
      return [key, name === null ? rename(child, names) : PREFIX + (names.get(name) ?? name)]
    }),
  )
}

function shapeName(value: Json): string | null {
  return typeof value === 'string' && value.startsWith(PREFIX) ? value.slice(PREFIX.length) : null
}

function inOrder(value: JsonObject): JsonObject {
  return Object.fromEntries(Object.entries(value).sort(([a], [b]) => (a < b ? -1 : 1)))
}

function isObject(value: Json): value is JsonObject {
  return typeof value === 'object' && value !== null && !Array.isArray(value)
}

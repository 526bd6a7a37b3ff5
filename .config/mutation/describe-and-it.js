import { format } from 'node:util'

/** Stands in for Vitest's collector while mutants run; `expect` is Vitest's own. */
export { expect } from 'vitest'

/** @type {{ name: string, file: string, run: () => unknown }[]} */
export const collected = []
let file = ''
const titles = []

export async function collect(path, load) {
  file = path
  await load()
}

export function describe(title, body) {
  titles.push(title)
  body()
  titles.pop()
}

export function it(title, run) {
  collected.push({ name: [...titles, title].join(' > '), file, run })
}

describe.each = (rows) => (title, body) =>
  rows.forEach((row, i) => describe(named(title, row, i), () => spread(body, row)))
it.each = (rows) => (title, run) => rows.forEach((row, i) => it(named(title, row, i), () => spread(run, row)))

const spread = (body, row) => (Array.isArray(row) ? body(...row) : body(row))
// the row's number keeps apart what the title does not
const named = (title, row, i) => `${format(title, ...(Array.isArray(row) ? row : [row]))} [${i}]`

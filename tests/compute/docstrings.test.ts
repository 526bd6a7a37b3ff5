import { fileURLToPath } from 'node:url'
import ts from 'typescript'
import { describe, expect, it } from 'vitest'

const INDEX = fileURLToPath(new URL('../../src/compute/index.ts', import.meta.url))
/** What a reader has to be told of every function of the core. */
const PARTS = {
  'what it is for': /What for/i,
  units: /Units?:|deg|N\.m|percent|%/i,
  errors: /Errors?:/,
  source: /Source|no source|derived|after /i,
  limits: /Limits?:|When not to use/i,
  example: /@example/,
}

function publicFunctions(): { name: string; docstring: string }[] {
  const program = ts.createProgram([INDEX], { allowImportingTsExtensions: true, noEmit: true, noLib: true, types: [] })
  const checker = program.getTypeChecker()
  const index = checker.getSymbolAtLocation(program.getSourceFile(INDEX)!)!
  return checker.getExportsOfModule(index).flatMap((symbol) => {
    const target = symbol.flags & ts.SymbolFlags.Alias ? checker.getAliasedSymbol(symbol) : symbol
    const declaration = target.declarations?.find(ts.isFunctionDeclaration)
    if (declaration === undefined) return []
    const { text } = declaration.getSourceFile()
    return [{ name: target.name, docstring: text.slice(declaration.getFullStart(), declaration.getStart()) }]
  })
}

describe('every public function of the core', () => {
  const functions = publicFunctions()

  it('is found', () => {
    expect(functions.length).toBeGreaterThan(100)
  })

  it.each(Object.entries(PARTS))('says: %s', (_part, words) => {
    expect(functions.filter(({ docstring }) => !words.test(docstring)).map(({ name }) => name)).toEqual([])
  })
})

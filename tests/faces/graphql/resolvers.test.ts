/** A resolver is one call of a use case: no second logic beside that of REST. Read off its source, not off its behaviour. */
import { readdir, readFile } from 'node:fs/promises'
import ts from 'typescript'
import { describe, expect, it } from 'vitest'

const folder = new URL('../../../src/faces/graphql/fields/', import.meta.url)
const files = (await readdir(folder)).filter((name) => name.endsWith('.ts'))
const sources = await Promise.all(
  files.map(async (name) => [name, await readFile(new URL(name, folder), 'utf8')] as const),
)

/** What a face is made of: use cases, documents, shapes, and what turns the one into the other. */
const MAY_IMPORT: readonly RegExp[] = [
  /^(zod|graphql)$/,
  /^\.\.\/\.\.\/\.\.\/application\/[a-z-]+\/[a-z-]+\.ts$/,
  /^\.\.\/\.\.\/\.\.\/domain\/[a-z-]+-document\.ts$/,
  /^\.\.\/\.\.\/shapes\/[a-z-]+\.ts$/,
  /^\.\.\/\.\.\/(audit-filter|parse|readiness-ask|series-ask|system-and-value)\.ts$/,
  /^\.\.\/(connection|context|field|types)\.ts$/,
]

/** Facts on which only the layers below may depend. */
const NOT_LOOKED_AT = ['role', 'clinicId', 'teamId', 'licensed', 'unit', 'actor']

const BRANCHES: ReadonlySet<ts.SyntaxKind> = new Set([
  ts.SyntaxKind.IfStatement,
  ts.SyntaxKind.ConditionalExpression,
  ts.SyntaxKind.SwitchStatement,
  ts.SyntaxKind.ForStatement,
  ts.SyntaxKind.ForOfStatement,
  ts.SyntaxKind.WhileStatement,
  ts.SyntaxKind.ThrowStatement,
  ts.SyntaxKind.TryStatement,
])

/** A default for what was left out is the one choice a resolver makes. */
const MAY_JOIN: ReadonlySet<ts.SyntaxKind> = new Set([ts.SyntaxKind.QuestionQuestionToken, ts.SyntaxKind.EqualsToken])

function logicIn(text: string): string[] {
  const source = ts.createSourceFile('resolver.ts', text, ts.ScriptTarget.Latest, true)
  const found: string[] = []
  const visit = (node: ts.Node): void => {
    const looksAt = ts.isPropertyAccessExpression(node) && NOT_LOOKED_AT.includes(node.name.text)
    const takes = ts.isBindingElement(node) && NOT_LOOKED_AT.includes((node.propertyName ?? node.name).getText(source))
    const joins = ts.isBinaryExpression(node) && !MAY_JOIN.has(node.operatorToken.kind)
    const negates = ts.isPrefixUnaryExpression(node)
    if (BRANCHES.has(node.kind) || looksAt || takes || joins || negates) found.push(node.getText(source))
    ts.forEachChild(node, visit)
  }
  visit(source)
  return found
}

const importsOf = (text: string): string[] => ts.preProcessFile(text).importedFiles.map(({ fileName }) => fileName)

describe('the resolvers', () => {
  it('are there to be read', () => expect(files.length).toBeGreaterThan(6))

  it.each(sources)('of %s import use cases, documents, shapes and nothing below them', (_name, text) => {
    expect(importsOf(text).filter((path) => !MAY_IMPORT.some((allowed) => allowed.test(path)))).toEqual([])
  })

  it.each(sources)('of %s hold no condition, no arithmetic and no look at role, clinic or unit', (_name, text) => {
    expect(logicIn(text)).toEqual([])
  })

  it.each([
    "if (gql.clinic().actor.role === 'clinician') show()",
    "const answer = unit === 'J' ? a : b",
    'const shown = values.map((value) => value * 0.7376)',
    'const mine = row.clinicId',
    'const { role } = actor',
    'const hidden = !allowed',
    'throw new Error()',
  ])('would be caught at: %s', (text) => expect(logicIn(text)).not.toEqual([]))

  it('would be caught at reaching past the use cases', () => {
    const past = [
      "import { db } from '../../../store/session-store.ts'",
      "import { may } from '../../../tenancy/policy.ts'",
    ]
    for (const text of past) expect(MAY_IMPORT.some((allowed) => allowed.test(importsOf(text)[0] ?? ''))).toBe(false)
  })
})

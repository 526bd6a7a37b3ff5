import ts from 'typescript'

/** Which list a code word of the source belongs in, by where it stands. What is refused ends as a flag or as a reason. */
export type CodeWordKind = 'flag' | 'reason' | 'refusal' | 'caution' | 'warning'

export interface CodeWord {
  readonly word: string
  readonly kind: CodeWordKind
  /** Of a flag, where it is written beside it. */
  readonly levels: readonly string[]
  readonly at: string
}

export interface SourceText {
  readonly path: string
  readonly text: string
}

type Callable = ts.FunctionDeclaration | ts.ArrowFunction | ts.FunctionExpression | ts.MethodDeclaration
/** What the arguments of a function are, by position. */
type Taken = ReadonlyMap<number, CodeWordKind | 'level'>

/**
 * The code words that stand where a flag, a reason, a caution or a setup warning is said: as a property (`reason: '...'`,
 * `code` beside `level`), as an argument (`withheld('...')`), as a return of a function that gives reasons, as a member
 * of a union, as an entry of a list. Reads syntax only: what a variable brings from elsewhere is read where it is written.
 */
export function codeWordsIn(sources: readonly SourceText[]): CodeWord[] {
  const files = sources.map(({ path, text }) => ts.createSourceFile(path, text, ts.ScriptTarget.Latest, true))
  const shared = new Map<string, Taken>()
  const own = new Map(files.map((file) => [file, takersOf(file, shared)]))
  return files.flatMap((file) => wordsOf(file, (name) => own.get(file)?.get(name) ?? shared.get(name)))
}

function takersOf(file: ts.SourceFile, shared: Map<string, Taken>): Map<string, Taken> {
  const own = new Map<string, Taken>()
  visit(file, (node) => {
    if (!isCallable(node)) return
    const name = nameOf(node)
    const taken = takenBy(node)
    if (name === null || taken.size === 0) return
    if (ts.isFunctionDeclaration(node) && isExported(node)) shared.set(name, taken)
    else own.set(name, taken)
  })
  return own
}

function takenBy(node: Callable): Taken {
  const names = node.parameters.map(({ name }) => name.getText())
  const withLevel = names.includes('level')
  const taken = new Map<number, CodeWordKind | 'level'>()
  node.parameters.forEach(({ type }, index) => {
    const name = names[index] ?? ''
    if (name === 'level') taken.set(index, 'level')
    else if (name === 'code' && withLevel) taken.set(index, 'flag')
    else if (name === 'code' && (node.type?.getText() ?? '').includes('Warning')) taken.set(index, 'warning')
    else if (/^(reason|why)$/.test(name) || /^ReasonCode\b(?!\[)/.test(type?.getText() ?? ''))
      taken.set(index, 'reason')
  })
  return taken
}

function wordsOf(file: ts.SourceFile, takersNamed: (name: string) => Taken | undefined): CodeWord[] {
  const found: CodeWord[] = []
  const constants = constantsOf(file)
  const lists = listsOf(file)
  const say = (node: ts.Node, kind: CodeWordKind, levels: readonly string[] = []): void => {
    for (const literal of literalsOf(node, constants)) {
      const { line } = file.getLineAndCharacterOfPosition(literal.getStart())
      found.push({ word: literal.text, kind, levels, at: `${file.fileName}:${line + 1}` })
    }
  }
  visit(file, (node) => {
    if (ts.isPropertyAssignment(node)) {
      const kind = kindOfProperty(node.name.getText(), node.parent)
      if (kind !== null) say(node.initializer, kind, levelsBeside(node.parent))
    } else if (ts.isPropertySignature(node) && node.type !== undefined) {
      const kind = kindOfProperty(node.name.getText(), node.parent)
      if (kind !== null) say(node.type, kind)
    } else if (ts.isCallExpression(node)) {
      const callee = node.expression
      if (ts.isPropertyAccessExpression(callee) && callee.name.text === 'push') {
        const kind = lists.get(callee.expression.getText())
        if (kind !== undefined) node.arguments.forEach((argument) => say(argument, kind))
      }
      const taken = ts.isIdentifier(callee) ? takersNamed(callee.text) : undefined
      taken?.forEach((kind, index) => {
        const argument = node.arguments[index]
        if (kind !== 'level' && argument !== undefined) say(argument, kind, levelsGiven(node, taken))
      })
    } else if (ts.isVariableDeclaration(node) && node.initializer !== undefined) {
      const kind = lists.get(node.name.getText()) ?? kindOfVariable(node)
      if (kind !== null) say(node.initializer, kind)
    } else if (isCallable(node)) {
      const kind = kindOfReturns(node)
      if (kind !== null) returnsOf(node).forEach((returned) => say(returned, kind))
    }
  })
  return found
}

function kindOfProperty(name: string, parent: ts.Node): CodeWordKind | null {
  if (/^(reason|[a-z]\w*Reason)$/.test(name)) return 'reason'
  if (/^(refused|refusal)$/.test(name)) return 'refusal'
  if (/^(caution|cautions|notes)$/.test(name)) return 'caution'
  if (name === 'flags') return 'flag'
  return name === 'code' && memberOf(parent, 'level') !== null ? 'flag' : null
}

function kindOfVariable({ name, type }: ts.VariableDeclaration): CodeWordKind | null {
  const typed = /^ReasonCode\b(?!\[)/.test(type?.getText() ?? '')
  if (name.getText() === 'refused') return 'refusal'
  return typed || /^(reason|[a-z]\w*Reason)$/.test(name.getText()) ? 'reason' : null
}

/** Variables that gather flags or cautions, and what was passed over. */
function listsOf(file: ts.SourceFile): Map<string, CodeWordKind> {
  const lists = new Map<string, CodeWordKind>()
  visit(file, (node) => {
    if (!ts.isVariableDeclaration(node)) return
    if (node.name.getText() === 'flags') lists.set('flags', 'flag')
    else if (node.type?.getText() === 'ReasonCode[]') lists.set(node.name.getText(), 'caution')
  })
  return lists
}

function kindOfReturns(node: Callable): CodeWordKind | null {
  const name = nameOf(node) ?? ''
  const { type } = node
  if (/Notes$/.test(name)) return 'caution'
  if (/^reason|Reason/.test(name) || /\bReason(Code)?\b/.test(type?.getText() ?? '')) return 'reason'
  if (type === undefined || !ts.isUnionTypeNode(type)) return null
  // A number, or an object, or else the reason for neither.
  const text = type.types.some(({ kind }) => kind === ts.SyntaxKind.StringKeyword)
  return text &&
    type.types.some((member) => member.kind === ts.SyntaxKind.NumberKeyword || ts.isTypeLiteralNode(member))
    ? 'reason'
    : null
}

function returnsOf(node: Callable): ts.Expression[] {
  if (node.body === undefined) return []
  if (!ts.isBlock(node.body)) return [node.body]
  const returned: ts.Expression[] = []
  const walk = (inner: ts.Node): void => {
    if (isCallable(inner)) return
    if (ts.isReturnStatement(inner) && inner.expression !== undefined) returned.push(inner.expression)
    ts.forEachChild(inner, walk)
  }
  ts.forEachChild(node.body, walk)
  return returned
}

/** The words an expression or a type may come to; a condition is not one of them. */
function literalsOf(node: ts.Node, constants: ReadonlyMap<string, ts.Node>): ts.StringLiteral[] {
  const all = (nodes: readonly ts.Node[]) => nodes.flatMap((one) => literalsOf(one, constants))
  if (ts.isStringLiteral(node)) return /^[a-z][a-z0-9_]*$/.test(node.text) ? [node] : []
  if (ts.isIdentifier(node)) {
    const constant = constants.get(node.text)
    return constant === undefined ? [] : literalsOf(constant, constants)
  }
  if (ts.isConditionalExpression(node)) return all([node.whenTrue, node.whenFalse])
  if (ts.isBinaryExpression(node))
    return node.operatorToken.kind === ts.SyntaxKind.QuestionQuestionToken ? all([node.left, node.right]) : []
  if (ts.isParenthesizedExpression(node) || ts.isAsExpression(node) || ts.isSpreadElement(node))
    return literalsOf(node.expression, constants)
  if (ts.isArrayLiteralExpression(node)) return all(node.elements)
  if (ts.isUnionTypeNode(node)) return all(node.types)
  return ts.isLiteralTypeNode(node) ? literalsOf(node.literal, constants) : []
}

function constantsOf(file: ts.SourceFile): Map<string, ts.StringLiteral> {
  const constants = new Map<string, ts.StringLiteral>()
  visit(file, (node) => {
    if (ts.isVariableDeclaration(node) && node.initializer !== undefined && ts.isStringLiteral(node.initializer))
      constants.set(node.name.getText(), node.initializer)
  })
  return constants
}

function levelsBeside(parent: ts.Node): string[] {
  const level = memberOf(parent, 'level')
  return level !== null && ts.isPropertyAssignment(level) ? wordsIn(level.initializer) : []
}

function levelsGiven(call: ts.CallExpression, taken: Taken): string[] {
  const index = [...taken].find(([, kind]) => kind === 'level')?.[0]
  const level = index === undefined ? undefined : call.arguments[index]
  return level === undefined ? [] : wordsIn(level)
}

const wordsIn = (node: ts.Node): string[] => literalsOf(node, new Map()).map(({ text }) => text)

function memberOf(parent: ts.Node, name: string): ts.Node | null {
  const members: readonly ts.Node[] = ts.isObjectLiteralExpression(parent)
    ? parent.properties
    : ts.isInterfaceDeclaration(parent) || ts.isTypeLiteralNode(parent)
      ? parent.members
      : []
  return members.find((one) => (one as ts.NamedDeclaration).name?.getText() === name) ?? null
}

function isCallable(node: ts.Node): node is Callable {
  return (
    ts.isFunctionDeclaration(node) ||
    ts.isArrowFunction(node) ||
    ts.isFunctionExpression(node) ||
    ts.isMethodDeclaration(node)
  )
}

function nameOf(node: Callable): string | null {
  if (node.name !== undefined) return node.name.getText()
  return ts.isVariableDeclaration(node.parent) ? node.parent.name.getText() : null
}

function isExported(node: ts.FunctionDeclaration): boolean {
  return node.modifiers?.some(({ kind }) => kind === ts.SyntaxKind.ExportKeyword) ?? false
}

function visit(node: ts.Node, each: (node: ts.Node) => void): void {
  each(node)
  ts.forEachChild(node, (child) => visit(child, each))
}

import { buildSchema, execute, GraphQLError, parse, validate } from 'graphql'
import { pino } from 'pino'
import { describe, expect, it } from 'vitest'
import { AppError, ERROR_TABLE } from '../../../src/domain/errors.ts'
import { tellErrors, withoutValues } from '../../../src/faces/graphql/errors.ts'

const request = { id: 'r-1', log: pino({ level: 'silent' }) }
const told = (original: Error) => tellErrors({ data: { a: null }, errors: [new GraphQLError(original.message, { path: ['a'], originalError: original })] }, request) // prettier-ignore

describe('what a client is told', () => {
  it('is the row of the error table, with the problem document of REST beside the code', () => {
    const { statusCode, response } = told(new AppError('identifier_conflict', { faults: [{ pointer: '#/identifiers/0', code: 'identifier_conflict', message: 'In use.' }] })) // prettier-ignore
    expect(statusCode).toBe(200)
    expect(response.errors?.[0]).toMatchObject({
      message: `${ERROR_TABLE.identifier_conflict.title}.`,
      path: ['a'],
      extensions: {
        code: 'CONFLICT',
        problem: {
          code: 'identifier_conflict',
          status: 409,
          requestId: 'r-1',
          errors: [{ pointer: '#/identifiers/0' }],
        },
      },
    })
  })

  it('of a fault of ours is that there was one, and nothing else', () => {
    const { response } = told(new Error('select secret from subject where name = Avery'))
    expect(JSON.stringify(response)).not.toMatch(/secret|Avery|select/)
    expect(response.errors?.[0]?.extensions).toMatchObject({ code: 'INTERNAL' })
  })

  it('of an answer that does not fit its own type is that the fault is ours', () => {
    const broken = buildSchema('enum Word { a } type Query { w: Word }')
    const { errors } = execute({ schema: broken, document: parse('{ w }'), rootValue: { w: 'of another list' } }) as { errors: GraphQLError[] } // prettier-ignore
    const { response } = tellErrors({ data: { w: null }, errors }, request)
    expect(response.errors?.[0]?.extensions).toMatchObject({ code: 'INTERNAL' })
    expect(JSON.stringify(response)).not.toContain('another list')
  })

  it('of an outage is all there is: nothing that was read is shown', () => {
    const shown = { data: { subject: { name: 'Avery' }, a: null }, errors: [new GraphQLError('x', { originalError: new AppError('audit_unavailable') })] } // prettier-ignore
    const { statusCode, response } = tellErrors(shown, request)
    expect([statusCode, response.data]).toEqual([503, null])
    expect(JSON.stringify(response)).not.toContain('Avery')
  })

  it('of several refusals is in the order of the operation, whichever was found first', () => {
    const source = '{ a b }'
    const { definitions } = parse(source)
    const [node] = definitions as unknown as [{ selectionSet: { selections: [never, never] } }]
    const refused = (path: (string | number)[], which: 0 | 1) => new GraphQLError('x', { nodes: [node.selectionSet.selections[which]], path, originalError: new AppError('forbidden') }) // prettier-ignore
    const orders = [[refused(['b'], 1), refused(['a', 10], 0), refused(['a', 2], 0)], [refused(['a', 2], 0), refused(['b'], 1), refused(['a', 10], 0)]] // prettier-ignore
    for (const errors of orders) {
      const { response } = tellErrors({ data: {}, errors }, request)
      expect(response.errors?.map(({ path }) => path)).toEqual([['a', 2], ['a', 10], ['b']])
    }
  })

  it('of nothing but a refusal has the status of that refusal', () => {
    const refused = (code: 'not_found' | 'forbidden') => tellErrors({ data: null, errors: [new GraphQLError('x', { originalError: new AppError(code) })] }, request).statusCode // prettier-ignore
    expect([refused('not_found'), refused('forbidden')]).toEqual([404, 403])
  })
})

describe('what was sent', () => {
  const schema = buildSchema('enum Sex { female male } input I { name: String sex: Sex n: Int f: Float id: ID } type Query { a(i: I, s: Sex, n: Int): Int }') // prettier-ignore
  const SECRET = 'Avery; at "i.n"; Example'

  it.each([
    [{ name: 5 }, '$i" at "i.name"'],
    [{ name: 5, sex: 'male' }, '$i" at "i.name": String cannot represent this value.'],
    [{ sex: 'femal' }, '$i" at "i.sex": No such word in "Sex". Did you mean the enum value "female" or "male"?'],
    [{ q: 1 }, '$i": Field "q" is not defined by type "I"'],
    [{ sex: SECRET }, '$i" at "i.sex"'],
    [{ n: SECRET }, '$i" at "i.n"'],
    [{ f: SECRET }, '$i" at "i.f"'],
    [{ id: { name: SECRET } }, '$i" at "i.id"'],
    [SECRET, '$i"'],
  ])('in a variable, %j, is not said back; its place is', (value, place) => {
    const result = execute({ schema, document: parse('query($i: I) { a(i: $i) }'), variableValues: { i: value } }) as { errors: readonly GraphQLError[] } // prettier-ignore
    const message = withoutValues(result.errors[0]?.message ?? '')
    expect(message).not.toContain('Example')
    expect(message).toMatch(/^Variable "\$i"/)
    expect(message.length).toBeGreaterThan(30)
    if (!JSON.stringify(value).includes(SECRET.slice(0, 5))) expect(message).toContain(place)
  })

  it.each([
    '{ a(n "Avery Example") }',
    '{ a(n: 1 "Avery Example") }',
    '{ a(i: {name """Avery Example"""}) }',
    '"Avery Example" { a }',
  ])('in a query that cannot be read, %s, is not said back', (query) => {
    let message = ''
    try {
      parse(query)
    } catch (error) {
      message = (error as Error).message
    }
    expect(message).not.toBe('')
    expect(withoutValues(message)).not.toContain('Example')
  })

  it('in the text of a query is not said back', () => {
    const messages = validate(schema, parse('{ a(n: "Avery Example") b: a(i: {n: "Avery Example"}) c: a(s: "Avery Example") }')).map(({ message }) => withoutValues(message)) // prettier-ignore
    expect(messages).toHaveLength(3)
    expect(messages.filter((message) => message.includes('Example'))).toEqual([])
  })
})

/** How types are made of shapes, on shapes made for it: what the shapes of today do not hold may stand in those of tomorrow. */
import {
  getNamedType,
  graphql,
  GraphQLObjectType,
  GraphQLSchema,
  type GraphQLFieldConfig,
  type GraphQLOutputType,
} from 'graphql'
import { describe, expect, it } from 'vitest'
import { z } from 'zod'
import { plainQuantity } from '../../../src/faces/shapes/common.ts'
import { ShapeTypes } from '../../../src/faces/graphql/types-from-shapes.ts'

const fieldTypes = (type: GraphQLObjectType) =>
  Object.fromEntries(Object.entries(type.getFields()).map(([name, field]) => [name, String(field.type)]))

async function ask(type: GraphQLOutputType, value: unknown, query: string) {
  const field: GraphQLFieldConfig<unknown, unknown> = { type, resolve: () => value }
  const schema = new GraphQLSchema({ query: new GraphQLObjectType({ name: 'Query', fields: { answer: field } }) })
  const { data, errors } = await graphql({ schema, source: `{ answer { ${query} } }` })
  if (errors !== undefined) throw new Error(errors.map(({ message }) => message).join(' '))
  return JSON.parse(JSON.stringify(data)) as unknown
}

describe('a shape that is sent otherwise than it is answered', () => {
  const inner = z.strictObject({ count: z.string().transform(Number).pipe(z.number()), size: plainQuantity })

  it.each([['answered first'], ['sent first']])('is two types, whichever comes first: %s', (order) => {
    const types = new ShapeTypes()
    const answer = () => types.object(z.strictObject({ inner }), 'Answer')
    const sent = () => types.asSent(z.strictObject({ inner }), 'AnswerAsSent')
    const made = order === 'answered first' ? { answer: answer(), sent: sent() } : { sent: sent(), answer: answer() }
    expect([fieldTypes(made.answer), fieldTypes(made.sent)]).toEqual([{ inner: 'AnswerInner!' }, { inner: 'AnswerInnerAsSent' }]) // prettier-ignore
    const within = ({ sent: both, answer: one }: typeof made) => [one, both].map((type) => fieldTypes(getNamedType(type.getFields()['inner']?.type) as GraphQLObjectType)) // prettier-ignore
    expect(within(made)).toEqual([{ count: 'Float!', size: 'Quantity!' }, { count: 'String', size: 'Quantity' }]) // prettier-ignore
  })
})

describe('a list', () => {
  it('of quantities takes a unit, as one quantity does, and shows each of them in it', async () => {
    const type = new ShapeTypes().object(z.strictObject({ angles: z.array(plainQuantity).nullable() }), 'Probe')
    const angles = [{ value: 180, unit: 'deg' }, { value: 90, unit: 'deg' }] // prettier-ignore
    const query = 'angles { unit } inRadians: angles(unit: "rad") { value unit }'
    expect(await ask(type, { angles }, query)).toEqual({
      answer: { angles: [{ unit: 'deg' }, { unit: 'deg' }], inRadians: [{ value: Math.PI, unit: 'rad' }, { value: Math.PI / 2, unit: 'rad' }] }, // prettier-ignore
    })
    expect(await ask(type, { angles: null }, query)).toEqual({ answer: { angles: null, inRadians: null } })
  })

  it('of records or words shows a word as a word, in a list of lists as well', async () => {
    const choice = z.union([z.strictObject({ angle: z.number() }), z.string()])
    const type = new ShapeTypes().object(z.strictObject({ seen: z.array(choice), rows: z.array(z.array(choice)) }), 'Probe') // prettier-ignore
    const value = { seen: [{ angle: 30 }, 'not_recorded'], rows: [['unknown'], [{ angle: 5 }]] }
    expect(await ask(type, value, 'seen { angle word } rows { angle word }')).toEqual({
      answer: {
        seen: [{ angle: 30, word: null }, { angle: null, word: 'not_recorded' }], // prettier-ignore
        rows: [[{ angle: null, word: 'unknown' }], [{ angle: 5, word: null }]],
      },
    })
  })
})

describe('a choice between a record and a word', () => {
  it('is no answer by itself: whoever resolves it would hand over the bare word', () => {
    const choice = z.union([z.strictObject({ angle: z.number() }), z.string()]).meta({ id: 'EitherOfTwo' })
    expect(() => new ShapeTypes().object(choice)).toThrow(RangeError)
  })
})

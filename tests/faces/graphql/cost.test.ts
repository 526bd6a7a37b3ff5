/** What an operation costs before it runs, with the sizes of its pages and of the lists that have none. */
import { getNamedType, getNullableType, isListType, isObjectType, parse } from 'graphql'
import { describe, expect, it } from 'vitest'
import { AppError } from '../../../src/domain/errors.ts'
import { LIMITS, refuseCostly, USUAL_SIZES } from '../../../src/faces/graphql/limits.ts'
import { operationOf } from '../../../src/faces/graphql/operation.ts'
import { makeSchema } from '../../../src/faces/graphql/schema.ts'
import { QUERY } from '../../bench/graphql-question.ts'
import { readme } from '../../harness/readme.ts'

const schema = makeSchema()

const refusalOf = (query: string, variables: Record<string, unknown> = {}): AppError | undefined => {
  try {
    const document = parse(query)
    return void refuseCostly(schema, document, operationOf(document, null), variables)
  } catch (error) {
    if (error instanceof AppError) return error
    throw error
  }
}

const lists = Object.values(schema.getTypeMap())
  .filter((type) => isObjectType(type) && !type.name.startsWith('__'))
  .flatMap((type) => (isObjectType(type) ? Object.values(type.getFields()) : []).map((field) => ({ type, field })))
  .filter(({ field }) => isListType(getNullableType(field.type)) && isObjectType(getNamedType(field.type)))
  .map(({ type, field }) => ({ place: `${type.name}.${field.name}`, field, item: getNamedType(field.type) }))

describe('a list without pages', () => {
  const asks = (extensions: object) => 'cost' in extensions
  const dear = lists.filter(
    ({ field, item }) =>
      asks(field.extensions) ||
      (isObjectType(item) && Object.values(item.getFields()).some(({ extensions }) => asks(extensions))),
  )

  it('has a size, where it asks the database or its items do', () => {
    expect(dear.length).toBeGreaterThan(8)
    expect(dear.map(({ place }) => place).filter((place) => !(place in USUAL_SIZES))).toEqual([])
  })

  it('is a list of the schema wherever a size is written', () => {
    const places = new Set(lists.map(({ place }) => place))
    expect(Object.keys(USUAL_SIZES).filter((place) => !places.has(place))).toEqual([])
  })

  it.each([
    ['criteria of all episodes of 200 subjects', 'subjects(first: 200) { edges { node { episodes { readiness { overall } } } } }'], // prettier-ignore
    ['observations and reports of all episodes of 100 subjects', 'subjects(first: 100) { edges { node { episodes { observations { id key } reports { id version } } } } }'], // prettier-ignore
    ['what is behind every result of 100 sessions', 'sessions(first: 100) { edges { node { session { results { detail { computeVersion } } } } } }'], // prettier-ignore
    ['every test in the trends of 200 subjects', `subjects(first: 200) { edges { node { strengthTrend(joint: knee, side: left, movement: extension, contractionMode: isokinetic_concentric, contractionScheme: reciprocal, velocity: "60 deg/s", measure: peakTorque, statistic: best) { points { at quantity { value } } } } } }`], // prettier-ignore
    ['seven hundred changes of what a team sees', `team { ${['a', 'b', 'c', 'd'].map((name) => `${name}: reports(limit: 200) { items { change reportId reportVersion decision { category decidedOn } } }`).join(' ')} }`], // prettier-ignore
  ])('counts with it, so that this is refused: %s', (_what, query) => {
    expect(refusalOf(`{ ${query} }`)?.code).toBe('query_too_costly')
  })

  it('is cheap enough where it is not nested', () => {
    const one = 'subject(id: "x") { episodes { readiness { overall } observations { id key } reports { id version } } series { joint measures { measure statistics } } }' // prettier-ignore
    const page = 'subjects(first: 50) { edges { node { id episodes { id readiness { overall } } } } }'
    const visits = 'sessions(first: 20) { edges { node { session { results { id detail { computeVersion } } } } } }'
    for (const query of [one, page, visits]) expect(refusalOf(`{ ${query} }`), query).toBeUndefined()
  })
})

describe('what is asked in our own papers', () => {
  const [question = ''] = [...readme.matchAll(/```graphql\n([\s\S]*?)```/g)].map(([, text]) => text ?? '')
  const [, subscription = ''] = /const query = '(subscription [^']+)'/.exec(readme) ?? []

  it.each([
    ['the question of the README', question],
    ['its subscription', subscription],
    ['the question of the bench', QUERY],
  ])('%s costs less than a fifth of what is answered', (_what, query) => {
    const variables = { subject: 'x', dynamometer: 'y', episode: 'z' }
    expect(refusalOf(query, variables)).toBeUndefined()
    expect(query.length).toBeGreaterThan(50)
    const document = parse(query)
    const operation = operationOf(document, null)
    const selections = Array.from({ length: 5 }, () => operation.selectionSet.selections).flat()
    const five = { ...operation, selectionSet: { ...operation.selectionSet, selections } }
    expect(() => refuseCostly(schema, document, five, variables)).not.toThrow()
  })

  it(`and what would cost more than ${LIMITS.cost} says how much`, () => {
    const refusal = refusalOf('{ subjects(first: 200) { edges { node { episodes { readiness { overall } } } } } }')
    expect(refusal?.extra).toMatchObject({ limit: LIMITS.cost })
    expect((refusal?.extra as { cost: number }).cost).toBeGreaterThan(LIMITS.cost)
  })
})

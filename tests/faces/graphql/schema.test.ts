/** The schema as people read it: each thing says what it is, in words that are used and in none that only a clinician may say. */
import {
  isEnumType,
  isInputObjectType,
  isObjectType,
  isScalarType,
  type GraphQLNamedType,
  type GraphQLArgument,
} from 'graphql'
import { describe, expect, it } from 'vitest'
import { MEASURE_UNITS } from '../../../src/compute/index.ts'
import { MOVEMENTS } from '../../../src/domain/code-lists.ts'
import { ENUMS } from '../../../src/faces/graphql/enum-names.ts'
import { makeSchema } from '../../../src/faces/graphql/schema.ts'
import { TYPE_NAMES } from '../../../src/faces/graphql/type-names.ts'
import { MEASURE_WORDS } from '../../../src/faces/graphql/words-measures.ts'
import { describeField, OWN_WORDS, recordOf, SHARED_WORDS } from '../../../src/faces/graphql/words.ts'

const FORBIDDEN =
  /\b(clear(s|ed|ance)?|safe(ly)?|fit|ready to|passed|failed|ok|okay|normal|healed|recommended to return)\b/i

interface Said {
  readonly where: string
  readonly name: string
  readonly description: string | null | undefined
}

const types = Object.values(makeSchema().getTypeMap()).filter(
  ({ name }) => !name.startsWith('__') && !['String', 'Int', 'Float', 'Boolean', 'ID'].includes(name),
)
const typesSaid = types.map(({ name, description }): Said => ({ where: name, name, description }))
const fieldsSaid = types.flatMap(fieldsOf)
const argumentsSaid = fieldsSaid.flatMap(({ where, args }) =>
  args.map((arg): Said => ({ where: `${where}(${arg.name})`, name: arg.name, description: arg.description })),
)
const wordsSaid = types
  .filter(isEnumType)
  .flatMap((type) =>
    type.getValues().map(({ name, description }): Said => ({ where: `${type.name}.${name}`, name, description })),
  )

function fieldsOf(type: GraphQLNamedType): (Said & { readonly args: readonly GraphQLArgument[] })[] {
  if (!isObjectType(type) && !isInputObjectType(type)) return []
  return Object.values(type.getFields()).map((field) => ({
    where: `${type.name}.${field.name}`,
    name: field.name,
    description: field.description,
    args: 'args' in field ? field.args : [],
  }))
}

const twoWords = /\S+ \S+/
const undescribed = (said: readonly Said[]) =>
  said.filter(({ description }) => !twoWords.test(description ?? '')).map(({ where }) => where)

describe('every part of the schema', () => {
  it('is there to be looked at', () => {
    expect(typesSaid.length).toBeGreaterThan(150)
    expect(fieldsSaid.length).toBeGreaterThan(900)
    expect(argumentsSaid.length).toBeGreaterThan(100)
  })

  it('says what it is: types, enumerations and scalars', () => expect(undescribed(typesSaid)).toEqual([]))
  it('says what it is: fields and input fields', () => expect(undescribed(fieldsSaid)).toEqual([]))
  it('says what it is: arguments', () => expect(undescribed(argumentsSaid)).toEqual([]))

  it('says it in more than the kind of its value', () => {
    const ofTheKindOnly = [
      'A measured number with its UCUM unit',
      'ISO 8601 with offset',
      'ISO 8601 date',
      'UUID',
      'UCUM',
    ]
    const found = [...fieldsSaid, ...argumentsSaid].filter(({ description }) =>
      ofTheKindOnly.includes(description ?? ''),
    )
    expect(found.map(({ where }) => where)).toEqual([])
  })

  it('begins with a capital letter, unless with a code word and a colon, and a fragment has no full stop', () => {
    const wrong = [...fieldsSaid, ...argumentsSaid]
      .filter(
        ({ description }) =>
          !/^(\p{Lu}|\d|[a-z_]+: |[a-z_]+, )/u.test(description ?? '') || /[^.]\.$/.test(onlySentence(description)),
      )
      .map(({ where, description }) => `${where}: ${description}`)
    expect(wrong).toEqual([])
  })

  it('says nothing that only a clinician may say', () => {
    const said = [...typesSaid, ...fieldsSaid, ...argumentsSaid, ...wordsSaid]
    expect(said.filter(({ description }) => FORBIDDEN.test(description ?? ''))).toEqual([])
    expect(FORBIDDEN.test('Cleared by the surgeon')).toBe(true)
  })

  it('names the unit of what is measured, the one that the core computes in', () => {
    for (const [measure, words] of Object.entries(MEASURE_WORDS)) {
      const unit = MEASURE_UNITS[measure as keyof typeof MEASURE_UNITS]
      expect(words.split(/[\s,;:]+/), measure).toContain(unit)
    }
  })
})

/** Whole sentences end with a full stop; a fragment alone does not. */
const onlySentence = (text: string | null | undefined): string => (/[.?!] /.test(text ?? '') ? '' : (text ?? ''))

describe('a name', () => {
  it('of a type is written in PascalCase, and does not say InputInput or AsSent in its middle', () => {
    const odd = types.filter((type) => !isScalarType(type) && !/^[A-Z][A-Za-z0-9]*$/.test(type.name))
    expect(odd.map(({ name }) => name)).toEqual([])
    expect(types.filter(({ name }) => /AsSent.|Input.*Input|Input(?!$)/.test(name)).map(({ name }) => name)).toEqual([])
  })

  it('of a field or argument is written in camelCase, where it is not itself a code word', () => {
    const codes = new Set<string>(MOVEMENTS)
    const odd = [...fieldsSaid, ...argumentsSaid].filter(
      ({ name }) => !/^[a-z][A-Za-z0-9]*$/.test(name) && !codes.has(name),
    )
    expect(odd.map(({ where }) => where)).toEqual([])
  })

  it('given to a place is the name of a type: none is left over', () => {
    const names = new Set(types.map(({ name }) => recordOf(name)))
    expect(Object.values(TYPE_NAMES).filter((name) => !names.has(name))).toEqual([])
  })

  it('given to a list of words is the name of an enumeration: none is left over', () => {
    const names = new Set(types.filter(isEnumType).map(({ name }) => name))
    expect([...ENUMS.values()].map(({ name }) => name).filter((name) => !names.has(name))).toEqual([])
    expect([...names].filter((name) => ![...ENUMS.values()].some((listed) => listed.name === name))).toEqual([])
  })
})

describe('the words for what shapes leave unsaid', () => {
  const everywhere = [...fieldsSaid, ...argumentsSaid]

  it('are all said somewhere, by type and field', () => {
    const said = new Set([
      ...typesSaid.flatMap(({ name, description }) => [`${name} ${description}`, `${recordOf(name)} ${description}`]),
      ...fieldsSaid.map(
        ({ where, name, description }) => `${recordOf(where.split('.')[0] ?? '')}.${name} ${description}`,
      ),
      ...argumentsSaid.map(({ name, description }) => `Query.${name} ${description}`),
    ])
    expect(
      Object.entries(OWN_WORDS)
        .filter(([key, words]) => !said.has(`${key} ${words}`))
        .map(([key]) => key),
    ).toEqual([])
  })

  it('are all said somewhere, by the name of a field alone', () => {
    const said = new Set(everywhere.map(({ name, description }) => `${name} ${description}`))
    expect(
      Object.entries(SHARED_WORDS)
        .filter(([name, words]) => !said.has(`${name} ${words}`))
        .map(([name]) => name),
    ).toEqual([])
  })

  it('are not repeated by type and field where the name alone says the same', () => {
    const twice = Object.entries(OWN_WORDS).filter(([key, words]) => SHARED_WORDS[key.split('.')[1] ?? ''] === words)
    expect(twice).toEqual([])
  })

  it('give way to what a shape says itself, and not to what says only the kind of value', () => {
    expect(describeField('Subject', 'height', 'Said by the shape')).toBe('Said by the shape')
    expect(describeField('Subject', 'height', 'A measured number with its UCUM unit')).toBe(OWN_WORDS['Subject.height'])
    expect(describeField('SetupInput', 'notes', undefined)).toBe(describeField('SetupAsSent', 'notes', undefined))
    expect(describeField('Nothing', 'unheardOf', undefined)).toBeUndefined()
  })
})

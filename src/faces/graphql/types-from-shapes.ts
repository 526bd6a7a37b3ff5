/**
 * GraphQL types out of the zod shapes that REST answers with: an answer is described once and both faces show the same
 * fields by the same names. Objects become object types, words of a list become enumerations, a choice between objects
 * becomes one type in which what only some have may be null.
 */
import {
  GraphQLBoolean,
  GraphQLEnumType,
  GraphQLFloat,
  GraphQLID,
  GraphQLInputObjectType,
  GraphQLInt,
  GraphQLList,
  GraphQLNonNull,
  GraphQLObjectType,
  GraphQLString,
  type GraphQLArgumentConfig,
  type GraphQLEnumValueConfigMap,
  type GraphQLFieldConfig,
  type GraphQLInputFieldConfig,
  type GraphQLInputType,
  type GraphQLOutputType,
  type GraphQLScalarType,
} from 'graphql'
import { z } from 'zod'
import * as common from '../shapes/common.ts'
import { enumKey, ENUMS } from './enum-names.ts'
import { nameAt } from './type-names.ts'
import type { GraphqlContext } from './context.ts'
import { DateTimeType, DateType, JsonType } from './scalars.ts'
import { inAskedUnit, unitArgument, type UnitAsked } from './unit-argument.ts'
import { describeField, describeType } from './words.ts'

export type FieldConfig = GraphQLFieldConfig<never, GraphqlContext>
type Def = z.core.$ZodTypeDef & { readonly [key: string]: unknown }
/** Where a nameless shape stands; its name is made of it. */
type Place = { readonly parent: string; readonly field: string; readonly side: Side }
/** A document as it is sent, or what an answer holds. */
type Side = 'input' | 'output'
/** A type, and how a value becomes what it shows where that is not the value itself. */
type Shown = {
  readonly type: GraphQLOutputType
  readonly show?: ((value: unknown, asked: UnitAsked) => unknown) | undefined
  readonly takesUnit?: boolean | undefined
}
type Unwrapped = { readonly shape: z.core.$ZodType; readonly def: Def; readonly optional: boolean }

const defOf = (shape: z.core.$ZodType): Def => shape._zod.def as unknown as Def

/** A described clone of a shape shares its definition, so a scalar is known by that. */
const SCALARS = new Map<unknown, GraphQLScalarType>([
  [defOf(common.id), GraphQLID],
  [defOf(common.instant), DateTimeType],
  [defOf(common.day), DateType],
])

const FORMATS: Readonly<Record<string, GraphQLScalarType>> = { uuid: GraphQLID, date: DateType, datetime: DateTimeType }

export class ShapeTypes {
  /** By side: what a document is read from and what becomes of it may be of two kinds. */
  readonly #objects = { input: new Map<unknown, GraphQLObjectType>(), output: new Map<unknown, GraphQLObjectType>() }
  readonly #inputs = new Map<unknown, GraphQLInputObjectType>()
  readonly #enums = new Map<string, GraphQLEnumType>()
  readonly #unions = new Map<string, z.ZodType>()
  readonly #names = new Set<string>()
  readonly #links = new Map<string, () => Record<string, FieldConfig>>()

  /** More fields on a type than its shape has: the ways from it to other records. */
  link(typeName: string, fields: () => Record<string, FieldConfig>): void {
    this.#links.set(typeName, fields)
  }

  /** The object type of an answer. */
  object(shape: z.ZodObject | z.ZodUnion, name?: string): GraphQLObjectType {
    const place = { parent: '', field: '', side: 'output' } as const
    if (!(shape instanceof z.ZodUnion)) return this.#object(shape, place, name)
    const { type, show } = this.#choice(shape, place)
    if (show !== undefined) throw new RangeError('A choice that may be a word is shown by the field it stands in.')
    return type as GraphQLObjectType
  }

  /**
   * The object type of a document as it was sent, perhaps under an earlier description: what is asked for today may be missing,
   * and a word may be one that no list has any more, so words are text.
   */
  asSent(shape: z.ZodObject, name: string): GraphQLObjectType {
    return this.#object(shape, { parent: '', field: '', side: 'input' }, name)
  }

  enumeration(shape: z.ZodEnum): GraphQLEnumType | GraphQLScalarType {
    return this.#words(Object.values((shape._zod.def as unknown as { entries: Record<string, string> }).entries), {
      parent: '',
      field: '',
      side: 'output',
    })
  }

  /** Arguments of a field out of the query shape of the route it stands beside. */
  args(shape: z.ZodObject, omit: readonly string[] = []): Record<string, GraphQLArgumentConfig> {
    const names = Object.keys(shape.shape).filter((name) => !omit.includes(name))
    return Object.fromEntries(names.map((name) => [name, this.#inputField(shape.shape[name] as z.ZodType, { parent: 'Query', field: name, side: 'input' })])) // prettier-ignore
  }

  /** The input type of a document, and nothing it does not know. */
  input(shape: z.ZodType, name: string): GraphQLInputObjectType {
    return this.#inputObject(unwrap(shape, 'input').shape, { parent: '', field: '', side: 'input' }, name)
  }

  #object(shape: z.core.$ZodType, place: Place, given?: string): GraphQLObjectType {
    const known = this.#objects[place.side].get(defOf(shape))
    if (known !== undefined) return known
    const name = this.#free(given ?? nameOf(shape) ?? named(place))
    const type = new GraphQLObjectType<never, GraphqlContext>({
      name,
      description: describeType(name, metaOf(shape)?.description),
      fields: () => ({ ...this.#fieldsOf(shape, name, place.side), ...this.#links.get(name)?.() }),
    })
    this.#objects[place.side].set(defOf(shape), type as GraphQLObjectType)
    return type as GraphQLObjectType
  }

  #fieldsOf(shape: z.core.$ZodType, parent: string, side: Side): Record<string, FieldConfig> {
    return Object.fromEntries(
      Object.entries(membersOf(shape)).map(([field, member]) => [field, this.#field(member, { parent, field, side })]),
    )
  }

  #field(shape: z.core.$ZodType, place: Place): FieldConfig {
    const { shape: bare, optional } = unwrap(shape, place.side)
    const { type, show, takesUnit } = this.#output(bare, place)
    const description = describeField(
      place.parent,
      place.field,
      metaOf(shape)?.description ?? metaOf(bare)?.description,
    )
    return {
      type: optional || place.side === 'input' ? type : new GraphQLNonNull(type),
      description,
      ...(takesUnit === true ? { args: unitArgument } : {}),
      ...(show === undefined ? {} : { resolve: (source: never, args: UnitAsked) => show(source[place.field], args) }),
    }
  }

  #output(shape: z.core.$ZodType, place: Place): Shown {
    const def = defOf(shape)
    const scalar = SCALARS.get(def)
    if (scalar !== undefined) return { type: scalar }
    if (place.side === 'input' && wordsOf(shape).length > 0) return { type: GraphQLString }
    switch (def.type) {
      case 'object':
        if (isOpen(def)) return { type: JsonType }
        // One type on both sides: what was sent of a quantity is what is shown of it.
        if (isQuantity(shape)) return inUnit(this.#object(common.plainQuantity, { ...place, side: 'output' }))
        return isMeasured(shape) ? inUnit(this.#object(shape, place)) : { type: this.#object(shape, place) }
      case 'array': {
        const { shape: item, optional } = unwrap(def['element'] as z.ZodType, place.side)
        const { type, show, takesUnit } = this.#output(item, { ...place, field: singular(place.field) })
        return { type: new GraphQLList(optional ? type : new GraphQLNonNull(type)), show: show && eachOf(show), takesUnit } // prettier-ignore
      }
      case 'record':
        return { type: this.#byWord(def, place) }
      case 'union':
        return this.#choice(shape, place)
      case 'unknown':
      case 'any':
        return { type: JsonType }
      default:
        return { type: this.#leaf(def, place) }
    }
  }

  /** A record by the words of a list has a field for each; any other is JSON. */
  #byWord(def: Def, place: Place): GraphQLOutputType {
    const keys = defOf(def['keyType'] as z.ZodType)
    if (keys.type !== 'enum') return JsonType
    const value = def['valueType'] as z.ZodType
    const words = Object.values((keys as unknown as { entries: Record<string, string> }).entries)
    return this.#object(z.strictObject(Object.fromEntries(words.map((word) => [word, value.optional()]))), place)
  }

  #choice(shape: z.core.$ZodType, place: Place): Shown {
    const options = optionsOf(shape)
    const words = options.flatMap(wordsOf)
    if (options.every((option) => wordsOf(option).length > 0))
      return { type: place.side === 'input' ? GraphQLString : this.#words(words, place) }
    const kinds = new Set(options.map((option) => defOf(option).type))
    const [first] = options
    if (kinds.size === 1 && kinds.has('array')) return this.#output(listOfAny(options), place)
    if (kinds.size === 1 && first !== undefined && !kinds.has('object'))
      return { type: this.#leaf(defOf(first), place) }
    if (kinds.has('array') || kinds.has('record')) return { type: JsonType }
    const merged = this.#merged(
      shape,
      options.filter((option) => defOf(option).type === 'object'),
      kinds,
      place.side,
    )
    const type = this.#object(merged, place, nameOf(shape))
    return kinds.has('string') || kinds.has('boolean') ? { type, show: asRecord } : { type }
  }

  /** One shape in which a field is required where every option requires it, and of several kinds where they differ. */
  #merged(
    shape: z.core.$ZodType,
    objects: readonly z.core.$ZodType[],
    kinds: ReadonlySet<string>,
    side: Side,
  ): z.ZodType {
    const scalars = ['string', 'boolean'].filter((kind) => kinds.has(kind))
    const key = [side, ...objects.map((option) => idOfDef(defOf(option))), ...scalars].join(' ')
    const known = this.#unions.get(key)
    if (known !== undefined) return known
    const members = mergeMembers(objects, scalars.length > 0, side)
    if (kinds.has('string')) members['word'] = z.string().optional()
    if (kinds.has('boolean')) members['yes'] = z.boolean().optional()
    const meta = metaOf(shape)
    const merged = z.strictObject(members)
    const described = meta?.description === undefined ? merged : merged.describe(meta.description)
    this.#unions.set(key, described)
    return described
  }

  #leaf(def: Def, place: Place): GraphQLScalarType | GraphQLEnumType {
    switch (def.type) {
      case 'boolean':
        return GraphQLBoolean
      case 'number':
        return isWhole(def) ? GraphQLInt : GraphQLFloat
      case 'literal':
        return GraphQLString
      case 'enum':
        return this.#words(Object.values((def as unknown as { entries: Record<string, string> }).entries), place)
      case 'string':
        return FORMATS[String(def['format'])] ?? GraphQLString
      default:
        throw new RangeError(`No GraphQL type for ${def.type} at ${place.parent}.${place.field}`)
    }
  }

  /** One enumeration for one list of words, wherever it stands. Words that GraphQL cannot spell stay text. */
  #words(words: readonly string[], place: Place): GraphQLEnumType | GraphQLScalarType {
    const list = [...new Set(words)]
    if (!list.every((word) => /^[_A-Za-z][_0-9A-Za-z]*$/.test(word))) return GraphQLString
    const key = enumKey(list)
    const known = this.#enums.get(key)
    if (known !== undefined) return known
    const listed = ENUMS.get(key)
    const name = this.#free(listed?.name ?? named(place))
    const values: GraphQLEnumValueConfigMap = {}
    for (const word of list) values[word] = { value: word, description: listed?.labels.get(word) }
    const type = new GraphQLEnumType({ name, values, description: listed?.description })
    this.#enums.set(key, type)
    return type
  }

  #inputField(shape: z.core.$ZodType, place: Place): GraphQLInputFieldConfig {
    const { shape: bare, optional } = unwrap(shape, 'input')
    const type = this.#inputType(bare, place)
    return {
      type: optional ? type : new GraphQLNonNull(type),
      description: describeField(place.parent, place.field, metaOf(shape)?.description ?? metaOf(bare)?.description),
    }
  }

  #inputType(shape: z.core.$ZodType, place: Place): GraphQLInputType {
    const def = defOf(shape)
    const scalar = SCALARS.get(def)
    if (scalar !== undefined) return scalar
    switch (def.type) {
      case 'object':
        if (isOpen(def)) return JsonType
        return this.#inputObject(isQuantity(shape) ? common.plainQuantity : shape, place)
      case 'array': {
        const { shape: item } = unwrap(def['element'] as z.ZodType, 'input')
        return new GraphQLList(new GraphQLNonNull(this.#inputType(item, { ...place, field: singular(place.field) })))
      }
      case 'union': {
        const options = optionsOf(shape)
        if (options.every((option) => wordsOf(option).length > 0)) return this.#words(options.flatMap(wordsOf), place)
        const kinds = new Set(options.map((option) => defOf(option).type))
        const [first] = options
        if (kinds.size === 1 && kinds.has('array')) return this.#inputType(listOfAny(options), place)
        if (kinds.size === 1 && first !== undefined && !kinds.has('object')) return this.#leaf(defOf(first), place)
        if (kinds.size > 1) return JsonType
        return this.#inputObject(this.#merged(shape, options, new Set(['object']), 'input'), place, nameOf(shape))
      }
      case 'record':
      case 'unknown':
      case 'any':
        return JsonType
      default:
        return this.#leaf(def, place)
    }
  }

  #inputObject(shape: z.core.$ZodType, place: Place, given?: string): GraphQLInputObjectType {
    const known = this.#inputs.get(defOf(shape))
    if (known !== undefined) return known
    const name = this.#free(given ?? inputName(nameOf(shape) ?? named(place)))
    const parent = name.replace(/Input$/, '')
    const type = new GraphQLInputObjectType({
      name,
      description: describeType(name, metaOf(shape)?.description),
      fields: () =>
        Object.fromEntries(
          Object.entries(membersOf(shape)).map(([field, member]) => [field, this.#inputField(member, { parent, field, side: 'input' })]), // prettier-ignore
        ),
    })
    this.#inputs.set(defOf(shape), type)
    return type
  }

  /** Two shapes of one name would be one type by chance of order. */
  #free(name: string): string {
    if (this.#names.has(name)) throw new RangeError(`Two shapes are called ${name}: give one of them an id.`)
    this.#names.add(name)
    return name
  }
}

const inUnit = (type: GraphQLObjectType): Shown => ({ type, show: inAskedUnit, takesUnit: true })

const asRecord = (value: unknown): unknown =>
  typeof value === 'string' ? { word: value } : typeof value === 'boolean' ? { yes: value } : value

const eachOf =
  (show: NonNullable<Shown['show']>): Shown['show'] =>
  (values, asked) =>
    (values as readonly unknown[] | null | undefined)?.map((value) => show(value, asked))

function unwrap(shape: z.core.$ZodType, side: Side, optional = false): Unwrapped {
  const def = defOf(shape)
  switch (def.type) {
    case 'optional':
    case 'nullable':
    case 'default':
    case 'prefault':
      return unwrap(def['innerType'] as z.ZodType, side, true)
    case 'readonly':
      return unwrap(def['innerType'] as z.ZodType, side, optional)
    case 'pipe':
      return unwrap(def[side === 'input' ? 'in' : 'out'] as z.ZodType, side, optional)
    case 'union': {
      const options = def['options'] as readonly z.ZodType[]
      const rest = options.filter((option) => defOf(option).type !== 'null')
      const [only] = rest
      const nullable = optional || rest.length < options.length
      if (rest.length === 1 && only !== undefined) return unwrap(only, side, nullable)
      return { shape, def, optional: nullable }
    }
    default:
      return { shape, def, optional }
  }
}

/** Choices within a choice are one choice. */
function optionsOf(shape: z.core.$ZodType): readonly z.core.$ZodType[] {
  const options = (defOf(shape)['options'] as readonly z.ZodType[]).filter((option) => defOf(option).type !== 'null')
  return options.flatMap((option) => (defOf(option).type === 'union' ? optionsOf(option) : [option]))
}

/** Lists of this or lists of that: a list of either. */
function listOfAny(lists: readonly z.core.$ZodType[]): z.ZodType {
  const items = lists.map((list) => defOf(list)['element'] as z.ZodType)
  return z.array(z.union(items as [z.ZodType, z.ZodType]))
}

function wordsOf(shape: z.core.$ZodType): readonly string[] {
  const def = defOf(shape)
  if (def.type === 'enum') return Object.values((def as unknown as { entries: Record<string, string> }).entries)
  return def.type === 'literal' ? (def['values'] as string[]).filter((value) => typeof value === 'string') : []
}

function mergeMembers(
  objects: readonly z.core.$ZodType[],
  alwaysOptional: boolean,
  side: Side,
): Record<string, z.ZodType> {
  const fields = [...new Set(objects.flatMap((object) => Object.keys(membersOf(object))))]
  return Object.fromEntries(
    fields.map((field) => {
      const members = objects.flatMap((object) => membersOf(object)[field] ?? [])
      const [first] = members as [z.ZodType]
      if (members.length === objects.length && new Set(members.map(defOf)).size === 1 && !alwaysOptional) return [field, first] // prettier-ignore
      const bare = members.map((member) => unwrap(member, side))
      const shapes = [...new Map(bare.map(({ shape, def }) => [def, shape])).values()] as z.ZodType[]
      const one = shapes.length === 1 ? (shapes[0] as z.ZodType) : z.union(shapes as [z.ZodType, z.ZodType])
      const optional = alwaysOptional || members.length < objects.length || bare.some((member) => member.optional)
      return [field, optional ? one.optional() : one]
    }),
  )
}

const membersOf = (shape: z.core.$ZodType): Record<string, z.ZodType> =>
  (defOf(shape) as unknown as { shape: Record<string, z.ZodType> }).shape

/** Keeps what it does not know, so it may hold anything. */
const isOpen = (def: Def): boolean =>
  def['catchall'] !== undefined && defOf(def['catchall'] as z.ZodType).type !== 'never'

const isWhole = (def: Def): boolean =>
  def['format'] !== undefined || (def['checks'] ?? []).some((check) => 'format' in check._zod.def)

/** A document's quantity and an answer's are the same two fields. */
const isQuantity = (shape: z.core.$ZodType): boolean => Object.keys(membersOf(shape)).join(' ') === 'value unit'

/** Can be shown in another unit without anything else of it becoming wrong. */
const isMeasured = (shape: z.core.$ZodType): boolean => nameOf(shape) === 'MeasuredValue'

const metaOf = (
  shape: z.core.$ZodType,
): { readonly id?: string | undefined; readonly description?: string | undefined } | undefined =>
  z.globalRegistry.get(shape)

/** A shape that was only described further is the same shape. */
function nameOf(shape: z.core.$ZodType): string | undefined {
  const id = metaOf(shape)?.id
  const { parent } = shape._zod
  return id === undefined && parent !== undefined && defOf(parent) === defOf(shape) ? nameOf(parent) : id
}

const named = ({ parent, field }: Place): string => nameAt(`${parent}${field.charAt(0).toUpperCase()}${field.slice(1)}`)

const inputName = (name: string): string => `${name.replace(/Document$/, '')}Input`

/** "points" is a list of points. */
function singular(field: string): string {
  if (/(series|basis|status|ss)$/.test(field)) return field
  if (field.endsWith('ies')) return `${field.slice(0, -3)}y`
  return field.endsWith('s') ? field.slice(0, -1) : field
}

const DEF_IDS = new WeakMap<object, number>()
let nextDefId = 0
function idOfDef(def: object): number {
  const known = DEF_IDS.get(def)
  if (known !== undefined) return known
  DEF_IDS.set(def, nextDefId)
  return nextDefId++
}

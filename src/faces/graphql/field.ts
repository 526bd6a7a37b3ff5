/** How a field is written: which action it is, what it takes, what it shows, and one call of a use case. */
import { createHash } from 'node:crypto'
import {
  GraphQLInt,
  GraphQLNonNull,
  GraphQLString,
  type GraphQLFieldConfigArgumentMap,
  type GraphQLOutputType,
} from 'graphql'
import { z } from 'zod'
import type { Context } from '../../application/context.ts'
import type { Created, OnceKey } from '../../application/create-once.ts'
import { etagOf } from '../../application/shared/versions.ts'
import { canonicalJson } from '../../domain/canonical-json.ts'
import type { LazyDocument } from '../../domain/parsed.ts'
import type { Announcement } from '../../tenancy/announcements.ts'
import { authorise, type Action } from '../../tenancy/policy.ts'
import { audited } from '../audited.ts'
import { parseDocument, parseParams, parseQuery } from '../parse.ts'
import { announced } from './announced.ts'
import type { GraphqlContext } from './context.ts'
import type { FieldConfig, ShapeTypes } from './types-from-shapes.ts'

type Args = Readonly<Record<string, unknown>>

interface ReadSpec<Source, P extends z.ZodObject, Q extends z.ZodObject> {
  readonly description: string
  readonly action: Action
  readonly type: GraphQLOutputType
  /** Ids that name something: one that can't is not found. */
  readonly ids?: P
  readonly query?: Q
  /** How much dearer than a plain field it is; see limits.ts. */
  readonly cost?: number
  /** The argument that says how many of them there may be. */
  readonly listedBy?: string
  readonly answer: (ctx: GraphqlContext, input: z.output<P> & z.output<Q>, source: Source) => Promise<unknown>
}

type NoShape = z.ZodObject<Record<string, never>>

export function read<Source = unknown, P extends z.ZodObject = NoShape, Q extends z.ZodObject = NoShape>(
  types: ShapeTypes,
  spec: ReadSpec<Source, P, Q>,
): FieldConfig {
  const ids = spec.ids ?? (z.strictObject({}) as unknown as P)
  const query = spec.query ?? (z.strictObject({}) as unknown as Q)
  return {
    type: spec.type,
    description: spec.description,
    args: { ...types.args(ids), ...types.args(query) },
    extensions: { cost: spec.cost ?? 1, listedBy: spec.listedBy },
    resolve: (source: never, args: Args, gql) =>
      audited(gql.clinic(), spec.action, () => {
        authorise(gql.clinic().actor, spec.action)
        const given = withoutNulls(args)
        const named = parseParams(ids, pick(given, Object.keys(ids.shape)))
        const asked = parseQuery(query, pick(given, Object.keys(query.shape)))
        return spec.answer(gql, { ...(named as object), ...(asked as object) } as z.output<P> & z.output<Q>, source)
      }),
  }
}

interface FollowSpec {
  readonly description: string
  /** Of the read that shows what was announced. */
  readonly action: Action
  readonly type: GraphQLOutputType
  readonly kind: Announcement['kind']
  readonly cost: number
  /** Refuses a subject that is not found. */
  readonly find: (gql: GraphqlContext, subjectId: string) => Promise<unknown>
  readonly answer: (gql: GraphqlContext, id: string) => Promise<unknown>
}

const ofSubject = z.strictObject({ subjectId: z.uuid().optional().describe('Of this subject alone') })

/** Whoever may read it is shown what is announced, each time as an ordinary read of its own. */
export function follow(types: ShapeTypes, { kind, action, ...spec }: FollowSpec): FieldConfig {
  return {
    type: spec.type,
    description: spec.description,
    args: types.args(ofSubject),
    extensions: { cost: spec.cost },
    subscribe: (_source: never, args: Args, gql) =>
      audited(gql.clinic(), action, async () => {
        authorise(gql.clinic().actor, action)
        const { subjectId } = parseParams(ofSubject, withoutNulls(args)) as z.output<typeof ofSubject>
        if (subjectId !== undefined) await spec.find(gql, subjectId)
        const { clinicId } = gql.clinic().actor
        // As the database writes an id, so that it is the one that is announced.
        return announced(gql.deps.announcements, { clinicId, kind, subjectId: subjectId?.toLowerCase() })
      }),
    resolve: ({ id }: Announcement, _args: Args, gql) => audited(gql.clinic(), action, () => spec.answer(gql, id)),
  } as FieldConfig
}

interface WriteSpec<P extends z.ZodObject, D extends z.ZodType> {
  readonly name: string
  readonly description: string
  readonly action: Action
  readonly type: GraphQLOutputType
  readonly ids?: P
  readonly document?: { readonly shape: D; readonly input: string }
}

export interface Written<P, D> {
  readonly params: P
  readonly document: LazyDocument<D>
  /** The document as bytes, for a use case that reads it in another thread. */
  readonly bytes: Uint8Array
}

/** Has one effect however often it is sent with the same key. */
export function create<P extends z.ZodObject = NoShape, D extends z.ZodType = NoShape>(
  types: ShapeTypes,
  spec: WriteSpec<P, D> & {
    readonly run: (ctx: Context, input: Written<z.output<P>, z.output<D>> & { once: OnceKey }, gql: GraphqlContext) => Promise<Created> // prettier-ignore
  },
): FieldConfig {
  return write(types, spec, IDEMPOTENCY_KEY, async (gql, written, { idempotencyKey }) => {
    const route = [`mutation ${spec.name}`, ...Object.values(written.params as Record<string, string>)].join(' ')
    const bodyHash = new Uint8Array(createHash('sha256').update(written.bytes).digest())
    const once = { route, key: String(idempotencyKey), bodyHash }
    return JSON.parse((await spec.run(gql.clinic(), { ...written, once }, gql)).body) as unknown
  })
}

/** Names the version it edits: another one in force is a stale_version. */
export function edit<P extends z.ZodObject, D extends z.ZodType>(
  types: ShapeTypes,
  spec: WriteSpec<P, D> & {
    readonly run: (ctx: Context, input: Written<z.output<P>, z.output<D>> & { ifMatch: string }) => Promise<unknown>
  },
): FieldConfig {
  return write(types, spec, VERSION, (gql, written, { version }) =>
    spec.run(gql.clinic(), { ...written, ifMatch: etagOf(Number(version)) }),
  )
}

function write<P extends z.ZodObject, D extends z.ZodType>(
  types: ShapeTypes,
  spec: WriteSpec<P, D>,
  more: GraphQLFieldConfigArgumentMap,
  run: (gql: GraphqlContext, written: Written<z.output<P>, z.output<D>>, args: Args) => Promise<unknown>,
): FieldConfig {
  const ids = spec.ids ?? (z.strictObject({}) as unknown as P)
  const { document } = spec
  const documentArgument =
    document === undefined
      ? {}
      : { document: { type: new GraphQLNonNull(types.input(document.shape, document.input)), description: 'As for REST' } } // prettier-ignore
  return {
    type: spec.type,
    description: spec.description,
    args: { ...types.args(ids), ...documentArgument, ...more },
    extensions: { cost: WRITE_COST },
    resolve: (_source: never, args: Args, gql) =>
      audited(gql.clinic(), spec.action, async () => {
        authorise(gql.clinic().actor, spec.action)
        const params = parseParams(ids, pick(args, Object.keys(ids.shape))) as z.output<P>
        // One content has one order of keys, and is read as strictly as a body is.
        const bytes = Buffer.from(canonicalJson(args['document'] ?? {}))
        const lazy = () => parseDocument(document?.shape, bytes) as ReturnType<LazyDocument<z.output<D>>>
        const answer = await run(gql, { params, document: lazy, bytes }, args)
        gql.forget()
        return answer
      }),
  }
}

const WRITE_COST = 50

const IDEMPOTENCY_KEY = {
  idempotencyKey: {
    type: new GraphQLNonNull(GraphQLString),
    description: 'New for each new document; the same again for a retry. 1 to 200 printable ASCII characters',
  },
}

const VERSION = {
  version: { type: new GraphQLNonNull(GraphQLInt), description: 'The version you edit, as you read it' },
}

/** In a query there is no difference between an argument that is null and none. */
const withoutNulls = (args: Args): Args => Object.fromEntries(Object.entries(args).filter(([, value]) => value !== null)) // prettier-ignore

const pick = (args: Args, names: readonly string[]): Args =>
  Object.fromEntries(names.flatMap((name) => (args[name] === undefined ? [] : [[name, args[name]]])))

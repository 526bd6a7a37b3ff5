/**
 * How to ask for each field of the GraphQL face that takes arguments. Tests that ask something of every field read it, and a
 * field without a recipe fails them: whoever adds one says here what its arguments are made of.
 */
import { v7 as uuidv7 } from 'uuid'
import {
  getNamedType,
  isEnumType,
  isInputObjectType,
  isObjectType,
  isRequiredArgument,
  isScalarType,
  type GraphQLField,
  type GraphQLObjectType,
} from 'graphql'
import { LIMITS } from '../../../src/faces/graphql/limits.ts'
import { makeSchema } from '../../../src/faces/graphql/schema.ts'
import type { LooseDocument } from '../../fixtures/example-session.ts'
import { RECIPES, type Ids } from '../rest/route-recipes.ts'

export const schema = makeSchema()

type Args = Readonly<Record<string, unknown>>

const SERIES = {
  joint: 'knee',
  movement: 'extension',
  contractionMode: 'isokinetic_concentric',
  contractionScheme: 'reciprocal',
  velocity: '60 deg/s',
  measure: 'peakTorque',
  statistic: 'best',
}

/** By type and field. Every field of Query and Mutation is here, and every other one that needs an argument. */
export const FIELD_RECIPES: Readonly<Record<string, (ids: Ids) => Args>> = {
  'Query.me': () => ({}),
  'Query.auditEvents': (ids) => ({ first: 3, subjectId: ids.subjectId, actorId: ids.world.clinic.principals.owner }),
  'Query.subject': (ids) => ({ id: ids.subjectId }),
  'Query.subjects': () => ({ first: 2 }),
  'Query.episode': (ids) => ({ id: ids.episodeId }),
  'Query.session': (ids) => ({ id: ids.sessionId }),
  'Query.sessions': (ids) => ({ first: 2, subjectId: ids.subjectId }),
  'Query.result': (ids) => ({ id: ids.resultId }),
  'Query.comparability': (ids) => ({ a: ids.resultId, b: ids.otherResultId }),
  'Query.workList': () => ({ first: 2 }),
  'Query.nextSetup': (ids) => ({ subjectId: ids.subjectId, joint: 'knee', side: 'right', dynamometerId: ids.dynamometerId }), // prettier-ignore
  'Query.referenceSetups': (ids) => ({ subjectId: ids.subjectId }),
  'Query.dynamometer': (ids) => ({ id: ids.dynamometerId }),
  'Query.dynamometers': () => ({ first: 2 }),
  'Query.measurementErrors': () => ({ first: 2 }),
  'Query.repeatTests': () => ({ ...SERIES, scale: 'absolute', limbCondition: 'operated' }),
  'Query.criteriaSets': () => ({}),
  'Query.report': (ids) => ({ id: ids.reportId }),
  'Query.consents': (ids) => ({ subjectId: ids.subjectId }),
  'Query.invitedTeams': () => ({}),
  'Query.team': () => ({}),
  'Subject.strengthTrend': () => ({ ...SERIES, side: 'right' }),
  'Subject.symmetry': () => SERIES,
  'Subject.sessions': () => ({ first: 2 }),
  'Episode.readiness': () => ({ criteriaSet: 'kyritsis-2016', on: '2026-11-20' }),
  'TeamView.report': (ids) => ({ id: ids.reportId }),
}

/** The route that does the same, and what its address names. */
const ROUTE_OF: Readonly<Record<string, readonly [route: string, ids: (ids: Ids) => Args]>> = {
  createSubject: ['POST /v1/subjects', () => ({})],
  editSubject: ['PUT /v1/subjects/:subjectId', (ids) => ({ id: ids.subjectId })],
  createEpisode: ['POST /v1/episodes', () => ({})],
  editEpisode: ['PUT /v1/episodes/:episodeId', (ids) => ({ id: ids.episodeId })],
  recordObservation: ['POST /v1/episodes/:episodeId/observations', (ids) => ({ episodeId: ids.episodeId })],
  pushSession: ['POST /v1/sessions', () => ({})],
  amendSession: ['POST /v1/sessions/:sessionId/amendments', (ids) => ({ sessionId: ids.sessionId })],
  withdrawSession: ['POST /v1/sessions/:sessionId/entered-in-error', (ids) => ({ sessionId: ids.sessionId })],
  resolveFlag: ['POST /v1/flags/:flagId/resolution', (ids) => ({ flagId: ids.flagId })],
  signReport: ['POST /v1/episodes/:episodeId/reports', (ids) => ({ episodeId: ids.episodeId })],
  signReportVersion: ['POST /v1/reports/:reportId/versions', (ids) => ({ reportId: ids.reportId })],
  withdrawReport: ['POST /v1/reports/:reportId/withdrawal', (ids) => ({ reportId: ids.reportId })],
  inviteTeam: ['POST /v1/teams/:teamId/invitations', (ids) => ({ teamId: ids.strangeTeamId })],
  recordConsent: ['POST /v1/subjects/:subjectId/consents', (ids) => ({ subjectId: ids.subjectId })],
  revokeConsent: ['POST /v1/consents/:consentId/revocation', (ids) => ({ consentId: ids.consentId })],
}

export const mutationNames = Object.keys(schema.getMutationType()?.getFields() ?? {})
export const queryNames = Object.keys(schema.getQueryType()?.getFields() ?? {})

export function queryArgs(name: string, ids: Ids): Args {
  const recipe = FIELD_RECIPES[`Query.${name}`]
  if (recipe === undefined) throw new Error(`no recipe for Query.${name}`)
  return recipe(ids)
}

/** Arguments of a mutation: ids, the document that its route takes, and a new key or the first version. */
export function mutationArgs(name: string, ids: Ids, document?: LooseDocument): Record<string, unknown> {
  const field = schema.getMutationType()?.getFields()[name]
  const entry = ROUTE_OF[name]
  if (field === undefined || entry === undefined) throw new Error(`no recipe for Mutation.${name}`)
  const [route, named] = entry
  const takes = (argument: string) => field.args.some((arg) => arg.name === argument)
  const body: unknown = document ?? RECIPES[route]?.body?.(ids)
  return {
    ...named(ids),
    ...(takes('document') ? { document: body } : {}),
    ...(takes('idempotencyKey') ? { idempotencyKey: uuidv7() } : {}),
    ...(takes('version') ? { version: 1 } : {}),
  }
}

export const routeOf = (mutation: string): string => ROUTE_OF[mutation]?.[0] ?? ''

export interface Operation {
  readonly query: string
  readonly variables: Record<string, unknown>
}

/** As many operations as it takes to ask for every field below a root field, within the limits of the face. */
export function operationsFor(kind: 'query' | 'mutation', name: string, args: Args, ids: Ids): Operation[] {
  const root = kind === 'query' ? schema.getQueryType() : schema.getMutationType()
  const field = root?.getFields()[name]
  if (field === undefined) throw new Error(`no field ${name}`)
  const given = Object.entries(args)
  const types = new Map(field.args.map((arg) => [arg.name, String(arg.type)]))
  const declared = given.map(([key]) => `$${key}: ${types.get(key) ?? 'ID'}`).join(', ')
  const passed = given.map(([key]) => `${key}: $${key}`).join(', ')
  const type = getNamedType(field.type)
  const selections = isObjectType(type) ? pack(piecesOf(type, LIMITS.depth - 1, ids)) : ['']
  return selections.map((selection) => ({
    query: `${kind}${declared === '' ? '' : `(${declared})`} { ${name}${passed === '' ? '' : `(${passed})`} ${selection === '' ? '' : `{ ${selection} }`} }`, // prettier-ignore
    variables: Object.fromEntries(given),
  }))
}

/** Each field of a type with all that is below it; what lies too deep for the limits is left out. */
function piecesOf(type: GraphQLObjectType, depth: number, ids: Ids, above: readonly string[] = []): string[] {
  return Object.values(type.getFields()).flatMap((field) => {
    const inner = getNamedType(field.type)
    const head = `${field.name}${argumentsOf(type, field, ids)}`
    if (isScalarType(inner) || isEnumType(inner)) return [head]
    if (!isObjectType(inner) || depth <= 1 || above.includes(inner.name)) return []
    const pieces = piecesOf(inner, depth - 1, ids, [...above, type.name])
    // Too long for one operation: asked for in parts, each below the same head.
    return pieces.length === 0 ? [] : pack(pieces, MOST_WORDS / 2).map((part) => `${head} { ${part} }`)
  })
}

function argumentsOf(type: GraphQLObjectType, field: GraphQLField<unknown, unknown>, ids: Ids): string {
  const recipe = FIELD_RECIPES[`${type.name}.${field.name}`]
  if (recipe === undefined) {
    const needed = field.args.filter(isRequiredArgument)
    if (needed.length > 0) throw new Error(`no recipe for ${type.name}.${field.name}`)
    return ''
  }
  const written = Object.entries(recipe(ids)).map(([name, value]) => {
    const arg = getNamedType(field.args.find((one) => one.name === name)?.type)
    return `${name}: ${isEnumType(arg) || isInputObjectType(arg) ? String(value) : JSON.stringify(value)}`
  })
  return written.length === 0 ? '' : `(${written.join(', ')})`
}

/** Some room below the limit of tokens. */
const MOST_WORDS = LIMITS.tokens * 0.8
const lengthOf = (text: string): number => text.match(/\w+|[{}():]|"[^"]*"/g)?.length ?? 0

function pack(pieces: readonly string[], most = MOST_WORDS): string[] {
  const packed: string[] = []
  let current: string[] = []
  let length = 0
  let heads = new Set<string>()
  for (const piece of pieces) {
    const head = /^\w+/.exec(piece)?.[0] ?? ''
    // Two parts of one field may not stand in one operation when their arguments differ; kept apart they are simply merged.
    if (current.length > 0 && (length + lengthOf(piece) > most || (heads.has(head) && piece.includes('{')))) {
      packed.push(current.join(' '))
      current = []
      length = 0
      heads = new Set()
    }
    current.push(piece)
    heads.add(head)
    length += lengthOf(piece)
  }
  if (current.length > 0) packed.push(current.join(' '))
  return packed
}

/** What is refused before anything runs. Rules see the text of a query; its cost depends on its variables too. */
import { maxAliasesRule } from '@escape.tech/graphql-armor-max-aliases'
import { maxDepthRule } from '@escape.tech/graphql-armor-max-depth'
import {
  GraphQLError,
  Kind,
  NoSchemaIntrospectionCustomRule,
  OperationTypeNode,
  type DocumentNode,
  type GraphQLSchema,
  type OperationDefinitionNode,
  type ValueNode,
  type ValidationContext,
  type ValidationRule,
} from 'graphql'
import { getComplexity, type ComplexityEstimatorArgs } from 'graphql-query-complexity'
import { AppError } from '../../domain/errors.ts'
import { withoutValues } from './errors.ts'

/** Characters: a thousand operations are kept, parsed, so that each is short. */
export const LIMITS = { depth: 8, aliases: 15, tokens: 1_000, characters: 20_000, cost: 5_000 } as const

/** A page that names no size. */
const USUAL_PAGE = 50

/**
 * Lists that come without pages, since there are few: how many there usually are, by type and field. The store bounds none but
 * the results of a session (400: 200 sets of two directions). Common practice, no source: an injury or two in a file, a test every
 * four to eight weeks for most of a year, two velocities in both directions of both limbs. What a record holds besides counts
 * once: it is read and shown as a whole.
 */
export const USUAL_SIZES: Readonly<Record<string, number>> = {
  'Query.consents': 3,
  // Five published ones, and the clinic's own.
  'Query.criteriaSets': 10,
  'Query.invitedTeams': 5,
  'Query.referenceSetups': 4,
  'Subject.episodes': 2,
  'Subject.series': 8,
  'Episode.observations': 10,
  'Episode.reports': 3,
  'Session.results': 8,
  'PushedSession.results': 8,
  'Trend.points': 6,
  'Symmetry.points': 6,
  // A team of players.
  'Squad.rows': 30,
}

/** Said beside whatever else is wrong with the operation. */
const REPORTED = {
  onReject: [(context: ValidationContext | null, error: GraphQLError) => context?.reportError(error)],
  propagateOnRejection: false,
}

export function validationRules({ introspection }: { readonly introspection: boolean }): ValidationRule[] {
  return [
    maxDepthRule({ n: LIMITS.depth, ignoreIntrospection: true, flattenFragments: true, ...REPORTED }),
    maxAliasesRule({ n: LIMITS.aliases, ...REPORTED }),
    finiteNumbersRule,
    ...(introspection ? [] : [NoSchemaIntrospectionCustomRule]),
  ]
}

/** graphql-js reads 1e999 as infinity, which is no number of any document. */
const finiteNumbersRule: ValidationRule = (context) => {
  const check = (node: ValueNode & { readonly value: string }) => {
    if (!Number.isFinite(Number(node.value))) context.reportError(new GraphQLError('A number is too large.', { nodes: node })) // prettier-ignore
  }
  return { FloatValue: check, IntValue: check }
}

/** A field costs 1, one that asks the database what it says, and whatever stands in a page or list counts for each of its items. */
export function refuseCostly(
  schema: GraphQLSchema,
  document: DocumentNode,
  operation: OperationDefinitionNode,
  variables: Record<string, unknown>,
): void {
  const fragments = document.definitions.filter(({ kind }) => kind === Kind.FRAGMENT_DEFINITION)
  const query: DocumentNode = { kind: Kind.DOCUMENT, definitions: [operation, ...fragments] }
  const cost = countable(() => getComplexity({ schema, query, variables, estimators: [costOf] }))
  // graphql-js takes for granted that a subscription has its field.
  if (cost === 0 && operation.operation === OperationTypeNode.SUBSCRIPTION) {
    throw new AppError('invalid_graphql', { detail: 'A condition leaves out the one field that is subscribed to.' })
  }
  if (cost > LIMITS.cost) {
    throw new AppError('query_too_costly', {
      detail: `This query costs ${Math.round(cost)}; up to ${LIMITS.cost} is answered. Ask for smaller pages.`,
      extra: { cost: Math.round(cost), limit: LIMITS.cost },
    })
  }
}

/** A variable that is missing, or fragments that become too many fields: counting finds it before execution would. */
function countable(count: () => number): number {
  try {
    return count()
  } catch (error) {
    if (!(error instanceof GraphQLError)) throw error
    throw new AppError('invalid_graphql', { detail: withoutValues(error.message), cause: error })
  }
}

function costOf({ type, field, args, childComplexity }: ComplexityEstimatorArgs): number {
  const { cost = 1, listedBy } = field.extensions as { cost?: number; listedBy?: string }
  return cost + childComplexity * (listedBy === undefined ? (USUAL_SIZES[`${type.name}.${field.name}`] ?? 1) : pageSize(args[listedBy])) // prettier-ignore
}

const pageSize = (asked: unknown): number => (typeof asked === 'number' ? Math.max(1, asked) : USUAL_PAGE)

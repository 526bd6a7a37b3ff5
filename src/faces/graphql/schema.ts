/** The whole schema: what may be asked and what may be done, each field one call of a use case. */
import { GraphQLObjectType, GraphQLSchema } from 'graphql'
import { clinicFields } from './fields/clinic.ts'
import { episodeFields } from './fields/episodes.ts'
import { reportFields } from './fields/reports.ts'
import { sessionFields } from './fields/sessions.ts'
import { setupFields } from './fields/setups.ts'
import { followedFields } from './fields/followed.ts'
import { subjectFields } from './fields/subjects.ts'
import { teamFields } from './fields/team.ts'
import type { GraphqlContext } from './context.ts'
import { makeTypes } from './types.ts'
import type { FieldConfig } from './types-from-shapes.ts'

export function makeSchema(): GraphQLSchema {
  const types = makeTypes()
  const groups = [clinicFields, subjectFields, episodeFields, sessionFields, setupFields, reportFields, teamFields]
  const fields = groups.map((group): Record<'query' | 'mutation', Record<string, FieldConfig>> => group(types))
  return new GraphQLSchema({
    query: root(
      'Query',
      'What may be asked. Each field is audited as its own action.',
      fields.map(({ query }) => query),
    ),
    mutation: root(
      'Mutation',
      'What a clinician does by hand; checked, audited and idempotent as over REST.',
      fields.map(({ mutation }) => mutation),
    ),
    subscription: root(
      'Subscription',
      'What is told when it happens, over a WebSocket; each time checked and audited as a read of its own.',
      [followedFields(types)],
    ),
  })
}

function root(name: string, description: string, groups: readonly Record<string, FieldConfig>[]): GraphQLObjectType {
  const fields = Object.assign({}, ...groups) as Record<string, FieldConfig>
  return new GraphQLObjectType<never, GraphqlContext>({ name, description, fields }) as GraphQLObjectType
}

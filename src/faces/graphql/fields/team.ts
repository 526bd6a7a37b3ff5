import { GraphQLObjectType } from 'graphql'
import { z } from 'zod'
import { listTeamChanges } from '../../../application/sharing/list-team-changes.ts'
import { readSquad } from '../../../application/sharing/read-squad.ts'
import { readTeamReport } from '../../../application/sharing/read-team-report.ts'
import { parseParams, parseQuery } from '../../parse.ts'
import { teamChangesQuery } from '../../shapes/queries.ts'
import type { GraphqlContext } from '../context.ts'
import type { Types } from '../types.ts'

/** What a team may see, and nothing else; the header Purpose names what for, as for REST. */
export function teamFields(types: Types) {
  const byId = z.strictObject({ id: z.uuid() })
  const since = teamChangesQuery
  const team = new GraphQLObjectType<unknown, GraphqlContext>({
    name: 'TeamView',
    description:
      'What subjects agreed to show this team. Needs the header Purpose; every pull is an event in the audit log of each clinic concerned.', // prettier-ignore
    fields: {
      squad: {
        type: types.squad,
        description: 'The latest report of each of the team’s references, each at the level agreed',
        extensions: { cost: 20 },
        resolve: (_, __, gql) => readSquad(gql.team(), { form: 'json' }),
      },
      reports: {
        type: types.teamChanges,
        description: 'What appeared and what went since the last call',
        args: types.shapes.args(since),
        extensions: { cost: 20, listedBy: 'limit' },
        resolve: (_, args, gql) => {
          const query = parseQuery(since, args) as z.output<typeof since>
          return listTeamChanges(gql.team(), { since: query.since ?? null, limit: query.limit ?? 50 })
        },
      },
      report: {
        type: types.teamReport,
        description: 'One report with its signature, to be verified without this service',
        args: types.shapes.args(byId),
        extensions: { cost: 10 },
        resolve: (_, args, gql) => {
          const { id } = parseParams(byId, args) as z.output<typeof byId>
          return readTeamReport(gql.team(), { projectionId: id, form: 'json' })
        },
      },
    },
  })
  return {
    query: {
      team: {
        type: team,
        description: 'The root of a team’s reader; a clinic’s token is refused',
        resolve: (_: never, __: unknown, gql: GraphqlContext) => gql.team(),
      },
    },
    mutation: {},
  }
}

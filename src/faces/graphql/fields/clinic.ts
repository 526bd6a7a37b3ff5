import { listAuditEvents } from '../../../application/audit/list-audit-events.ts'
import { getMe } from '../../../application/me/get-me.ts'
import { auditFilter } from '../../audit-filter.ts'
import { auditQuery } from '../../shapes/queries.ts'
import { connection, pageAsked, pageQuery } from '../connection.ts'
import { read } from '../field.ts'
import type { Types } from '../types.ts'

export function clinicFields(types: Types) {
  const { shapes } = types
  return {
    query: {
      me: read(shapes, {
        description: 'Who this token says you are, and what you may do',
        action: 'me.read',
        type: types.member,
        answer: (gql) => Promise.resolve(getMe(gql.clinic())),
      }),
      auditEvents: read(shapes, {
        description: 'The audit log, newest first, reads and refusals included; this reading is an event as well',
        action: 'audit.read',
        type: types.auditEvents,
        query: pageQuery.extend(auditQuery.shape),
        listedBy: 'first',
        answer: async (gql, { first, after, ...query }) => {
          const page = pageAsked({ first, after })
          return connection(await listAuditEvents(gql.clinic(), { page, filter: auditFilter(query) }), page)
        },
      }),
    },
    mutation: {},
  }
}

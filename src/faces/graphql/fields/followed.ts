import { readReport } from '../../../application/reports/read-report.ts'
import { getSessions } from '../../../application/sessions/get-sessions.ts'
import { getSubjects } from '../../../application/subjects/get-subjects.ts'
import type { Batch } from '../context.ts'
import { follow } from '../field.ts'
import type { Types } from '../types.ts'

type WholeSession = { readonly session: object }
const sessionsByIds: Batch<object, WholeSession> = (ctx, sessionIds) => getSessions(ctx, { sessionIds })
const subjectsByIds: Batch<object, unknown> = (ctx, subjectIds) => getSubjects(ctx, { subjectIds })

export function followedFields(types: Types) {
  const find: Parameters<typeof follow>[1]['find'] = (gql, subjectId) => gql.load(subjectsByIds, {}, subjectId)
  return {
    sessionStored: follow(types.shapes, {
      description:
        'A session with its results, when it is stored or amended by whatever way; as it stands when it is told. What was stored before, or while the connection was broken, is not told: read it', // prettier-ignore
      action: 'sessions.read',
      type: types.session,
      kind: 'session_stored',
      cost: 10,
      find,
      answer: async (gql, id) => {
        const { session, ...rest } = await gql.load(sessionsByIds, {}, id)
        return { ...session, ...rest }
      },
    }),
    reportSigned: follow(types.shapes, {
      description: 'A report, when it or a new version of it is signed; as it stands when it is told',
      action: 'reports.read',
      type: types.report,
      kind: 'report_signed',
      cost: 10,
      find,
      answer: (gql, id) => readReport(gql.clinic(), { reportId: id, version: null }),
    }),
  }
}

import { z } from 'zod'
import { explainComparability } from '../../../application/comparability/explain-comparability.ts'
import { listOpenFlags } from '../../../application/flags/list-open-flags.ts'
import { resolveFlag } from '../../../application/flags/resolve-flag.ts'
import { getResults } from '../../../application/results/get-results.ts'
import { amendSession } from '../../../application/sessions/amend-session.ts'
import { getSessions } from '../../../application/sessions/get-sessions.ts'
import { listSessions } from '../../../application/sessions/list-sessions.ts'
import { pushSession } from '../../../application/sessions/push-session.ts'
import { withdrawSession } from '../../../application/sessions/withdraw-session.ts'
import { flagResolutionDocument } from '../../../domain/flag-resolution-document.ts'
import { amendmentDocument, sessionDocument, withdrawalDocument } from '../../../domain/session-document.ts'
import { externalIdQuery, workListQuery } from '../../shapes/queries.ts'
import { systemAndValue } from '../../system-and-value.ts'
import { connection, pageAsked, pageQuery } from '../connection.ts'
import type { Batch } from '../context.ts'
import { create, edit, read } from '../field.ts'
import type { Types } from '../types.ts'

type WholeSession = { readonly session: object; readonly document: unknown }

const sessionsByIds: Batch<object, WholeSession> = (ctx, sessionIds) => getSessions(ctx, { sessionIds })
sessionsByIds.most = 50
const resultsByIds: Batch<object, unknown> = (ctx, resultIds) => getResults(ctx, { resultIds })

/** With its head not apart from the rest. */
const whole = ({ session, ...rest }: WholeSession) => ({ ...session, ...rest })

const byId = z.strictObject({ id: z.uuid() })

export function sessionFields(types: Types) {
  const { shapes } = types

  shapes.link('SessionSummary', () => ({
    session: read<{ id: string }>(shapes, {
      description: 'The whole session',
      action: 'sessions.read',
      type: types.session,
      cost: 10,
      answer: async (gql, _, { id }) => whole(await gql.load(sessionsByIds, {}, id)),
    }),
  }))
  shapes.link('Session', () => ({
    sent: {
      type: types.asSent,
      description: 'The document as it was pushed, with setups and sets; samples are replaced by their hash',
      resolve: ({ document }: WholeSession) => document,
    },
  }))
  shapes.link('Result', () => ({
    detail: read<{ id: string }>(shapes, {
      description: 'Followed back to its repetitions, setup, recording and method',
      action: 'results.read',
      type: types.result,
      cost: 5,
      answer: (gql, _, { id }) => gql.load(resultsByIds, {}, id),
    }),
  }))

  return {
    query: {
      session: read(shapes, {
        description: 'A session: what was sent and what came of it',
        action: 'sessions.read',
        type: types.session,
        ids: byId,
        cost: 10,
        answer: async (gql, { id }) => whole(await gql.load(sessionsByIds, {}, id)),
      }),
      sessions: read(shapes, {
        description: 'Sessions of this clinic, of a subject or by external id',
        action: 'sessions.list',
        type: types.sessions,
        query: pageQuery.extend({ subjectId: z.uuid().optional(), ...externalIdQuery.shape }),
        listedBy: 'first',
        answer: async (gql, { first, after, subjectId, ...query }) => {
          const page = pageAsked({ first, after })
          const asked = { page, subjectId: subjectId ?? null, externalId: systemAndValue(query, 'externalId') }
          return connection(await listSessions(gql.clinic(), asked), page)
        },
      }),
      result: read(shapes, {
        description: 'One result, followed back to its repetitions, setup, recording and method',
        action: 'results.read',
        type: types.result,
        ids: byId,
        cost: 5,
        answer: (gql, { id }) => gql.load(resultsByIds, {}, id),
      }),
      comparability: read(shapes, {
        description: 'May two results of a subject be compared? Measure by measure, with the reasons',
        action: 'comparability.read',
        type: types.comparability,
        query: z.strictObject({ a: z.uuid(), b: z.uuid() }),
        cost: 10,
        answer: (gql, query) => explainComparability(gql.clinic(), query),
      }),
      workList: read(shapes, {
        description: 'Open flags of this clinic, oldest first',
        action: 'flags.list',
        type: types.workList,
        query: pageQuery.extend(workListQuery.shape),
        listedBy: 'first',
        answer: async (gql, { level, ...query }) => {
          const page = pageAsked(query)
          return connection(await listOpenFlags(gql.clinic(), { page, level: level ?? null }), page)
        },
      }),
    },
    mutation: {
      pushSession: create(shapes, {
        name: 'pushSession',
        description: 'Push one visit as one document: complete or not there at all',
        action: 'sessions.push',
        type: types.pushedSession,
        document: { shape: sessionDocument, input: 'SessionInput' },
        run: pushSession,
      }),
      amendSession: edit(shapes, {
        name: 'amendSession',
        description: 'A corrected document takes the place of a session; earlier versions stay readable',
        action: 'sessions.amend',
        type: types.pushedSession,
        ids: z.strictObject({ sessionId: z.uuid() }),
        document: { shape: amendmentDocument, input: 'AmendmentInput' },
        run: (ctx, { params, ...input }) => amendSession(ctx, { ...params, ...input }),
      }),
      withdrawSession: edit(shapes, {
        name: 'withdrawSession',
        description: 'Withdraw a session that was entered in error',
        action: 'sessions.withdraw',
        type: types.withdrawn,
        ids: z.strictObject({ sessionId: z.uuid() }),
        document: { shape: withdrawalDocument, input: 'WithdrawalInput' },
        run: (ctx, { params, ...input }) => withdrawSession(ctx, { ...params, ...input }),
      }),
      resolveFlag: create(shapes, {
        name: 'resolveFlag',
        description: 'Resolve a flag, once, with a reason; by a clinician with a licence on record',
        action: 'flags.resolve',
        type: types.flag,
        ids: z.strictObject({ flagId: z.uuid() }),
        document: { shape: flagResolutionDocument, input: 'FlagResolutionInput' },
        run: (ctx, { params, ...input }) => resolveFlag(ctx, { ...params, ...input }),
      }),
    },
  }
}

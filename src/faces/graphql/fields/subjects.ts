import { z } from 'zod'
import { listEpisodesOfSubjects } from '../../../application/episodes/list-episodes-of-subjects.ts'
import { listSeriesOfSubjects } from '../../../application/series/list-series-of-subjects.ts'
import { listSessionsOfSubjects } from '../../../application/sessions/list-sessions-of-subjects.ts'
import { createSubject } from '../../../application/subjects/create-subject.ts'
import { editSubject } from '../../../application/subjects/edit-subject.ts'
import { getSubjects } from '../../../application/subjects/get-subjects.ts'
import { listSubjects } from '../../../application/subjects/list-subjects.ts'
import { readSymmetries } from '../../../application/symmetry/read-symmetries.ts'
import { readTrends } from '../../../application/trends/read-trends.ts'
import { subjectDocument } from '../../../domain/subject-document.ts'
import { symmetryAsk, trendAsk } from '../../series-ask.ts'
import { systemAndValue } from '../../system-and-value.ts'
import { identifierQuery, symmetryQuery, trendQuery } from '../../shapes/queries.ts'
import { connection, pageAsked, pageQuery } from '../connection.ts'
import type { Batch } from '../context.ts'
import { create, edit, read } from '../field.ts'
import { listOf, type Types } from '../types.ts'

interface OfSubject {
  readonly id: string
}

const subjectsByIds: Batch<object, unknown> = (ctx, subjectIds) => getSubjects(ctx, { subjectIds })
const episodesOf: Batch<object, unknown> = (ctx, subjectIds) => listEpisodesOfSubjects(ctx, { subjectIds })
const seriesOf: Batch<object, unknown> = (ctx, subjectIds) => listSeriesOfSubjects(ctx, { subjectIds })
type SessionsAsk = { page: Parameters<typeof listSessionsOfSubjects>[1]['page'] }
type SessionsPage = Awaited<ReturnType<typeof listSessionsOfSubjects>>[number]
const sessionsOf: Batch<SessionsAsk, SessionsPage> = (ctx, subjectIds, { page }) =>
  listSessionsOfSubjects(ctx, { subjectIds, page })
const trendsOf: Batch<z.output<typeof trendQuery>, unknown> = (ctx, subjectIds, query) =>
  readTrends(ctx, { subjectIds, ...trendAsk(query) })
const symmetriesOf: Batch<z.output<typeof symmetryQuery>, unknown> = (ctx, subjectIds, query) =>
  readSymmetries(ctx, { subjectIds, ...symmetryAsk(query) })

export function subjectFields(types: Types) {
  const { shapes } = types

  shapes.link('Subject', () => ({
    episodes: read<OfSubject>(shapes, {
      description: 'Courses of rehabilitation of this subject',
      action: 'episodes.list',
      type: listOf(types.episode),
      cost: 3,
      answer: (gql, _, subject) => gql.load(episodesOf, {}, subject.id),
    }),
    sessions: read<OfSubject, never, typeof pageQuery>(shapes, {
      description: 'Visits of this subject, in the order in which they were pushed',
      action: 'sessions.list',
      type: types.sessions,
      query: pageQuery,
      listedBy: 'first',
      answer: async (gql, query, subject) => {
        const page = pageAsked(query)
        return connection(await gql.load(sessionsOf, { page }, subject.id), page)
      },
    }),
    series: read<OfSubject>(shapes, {
      description: 'The series this subject has been tested in, and the measures each has values of',
      action: 'series.list',
      type: listOf(types.series),
      cost: 3,
      answer: (gql, _, subject) => gql.load(seriesOf, {}, subject.id),
    }),
    strengthTrend: read<OfSubject, never, typeof trendQuery>(shapes, {
      description:
        'The trend of one limb in one series. A change is never drawn across tests that may not be compared: the trend splits and says why', // prettier-ignore
      action: 'trends.read',
      type: types.trend,
      query: trendQuery,
      cost: 10,
      answer: (gql, query, subject) => gql.load(trendsOf, query, subject.id),
    }),
    symmetry: read<OfSubject, never, typeof symmetryQuery>(shapes, {
      description: 'Both limbs side by side, session by session; never clipped, never without both limbs beside it',
      action: 'symmetry.read',
      type: types.symmetry,
      query: symmetryQuery,
      cost: 10,
      answer: (gql, query, subject) => gql.load(symmetriesOf, query, subject.id),
    }),
  }))

  return {
    query: {
      subject: read(shapes, {
        description: 'A subject of this clinic',
        action: 'subjects.read',
        type: types.subject,
        ids: z.strictObject({ id: z.uuid() }),
        answer: (gql, { id }) => gql.load(subjectsByIds, {}, id),
      }),
      subjects: read(shapes, {
        description: 'The subjects of this clinic, or the one with an identifier; never found by name',
        action: 'subjects.list',
        type: types.subjects,
        query: pageQuery.extend(identifierQuery.shape),
        listedBy: 'first',
        answer: async (gql, { first, after, ...query }) => {
          const page = pageAsked({ first, after })
          return connection(await listSubjects(gql.clinic(), { page, identifier: systemAndValue(query, 'identifier') }), page) // prettier-ignore
        },
      }),
    },
    mutation: {
      createSubject: create(shapes, {
        name: 'createSubject',
        description: 'Create a subject',
        action: 'subjects.create',
        type: types.subject,
        document: { shape: subjectDocument, input: 'SubjectInput' },
        run: createSubject,
      }),
      editSubject: edit(shapes, {
        name: 'editSubject',
        description: 'Edit a subject: the whole document takes the place of the one before',
        action: 'subjects.edit',
        type: types.subject,
        ids: z.strictObject({ id: z.uuid() }),
        document: { shape: subjectDocument, input: 'SubjectInput' },
        run: (ctx, { params, ...input }) => editSubject(ctx, { subjectId: params.id, ...input }),
      }),
    },
  }
}

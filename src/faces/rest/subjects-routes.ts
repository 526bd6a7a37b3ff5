import type { FastifyInstance } from 'fastify'
import { createSubject } from '../../application/subjects/create-subject.ts'
import { editSubject } from '../../application/subjects/edit-subject.ts'
import { getSubject } from '../../application/subjects/get-subject.ts'
import { listSubjects } from '../../application/subjects/list-subjects.ts'
import { pageRequest } from '../../application/shared/paging.ts'
import { etagOf } from '../../application/shared/versions.ts'
import { subjectDocument } from '../../domain/subject-document.ts'
import { systemAndValue } from '../system-and-value.ts'
import { identifierQuery } from '../shapes/queries.ts'
import { created, ifMatch, onceKey } from './requests.ts'
import type { FaceDeps } from '../context.ts'
import { route } from './route.ts'
import { subject } from '../shapes/subject.ts'
import { creationHeaders, editHeaders, idParams, pageOf, pagingQuery } from '../shapes/common.ts' // prettier-ignore

export function subjectRoutes(app: FastifyInstance, deps: FaceDeps): void {
  route(app, deps, {
    method: 'POST',
    url: '/v1/subjects',
    action: 'subjects.create',
    tag: 'subjects',
    summary: 'Create a subject',
    body: subjectDocument,
    headers: creationHeaders,
    answers: { 201: subject },
    refusals: [409, 413, 422],
    answer: async (ctx, input) => created(await createSubject(ctx, { once: onceKey(input), document: input.document })),
  })

  route(app, deps, {
    method: 'GET',
    url: '/v1/subjects',
    action: 'subjects.list',
    tag: 'subjects',
    summary: 'List subjects, or find one by identifier',
    description: 'Never by name. Give identifierSystem and identifierValue together.',
    query: pagingQuery.extend(identifierQuery.shape),
    answers: { 200: pageOf(subject) },
    answer: async (ctx, { query }) => ({
      body: await listSubjects(ctx, { page: pageRequest(query), identifier: systemAndValue(query, 'identifier') }),
    }),
  })

  route(app, deps, {
    method: 'GET',
    url: '/v1/subjects/:subjectId',
    action: 'subjects.read',
    tag: 'subjects',
    summary: 'Read a subject',
    params: idParams('subjectId'),
    answers: { 200: subject },
    answer: async (ctx, { params }) => {
      const body = await getSubject(ctx, params)
      return { body, headers: { ETag: etagOf(body.version) } }
    },
  })

  route(app, deps, {
    method: 'PUT',
    url: '/v1/subjects/:subjectId',
    action: 'subjects.edit',
    tag: 'subjects',
    summary: 'Edit a subject',
    params: idParams('subjectId'),
    headers: editHeaders,
    body: subjectDocument,
    answers: { 200: subject },
    refusals: [409, 412, 413, 422, 428],
    answer: async (ctx, { params, document, request }) => {
      const body = await editSubject(ctx, { ...params, ifMatch: ifMatch(request), document })
      return { body, headers: { ETag: etagOf(body.version) } }
    },
  })
}

import type { FastifyInstance } from 'fastify'
import { z } from 'zod'
import { readCodeList, readCodeLists } from '../../application/code-lists/read-code-lists.ts'
import type { FaceDeps } from '../context.ts'
import { route } from './route.ts'
import { listOf } from '../shapes/common.ts'

const key = z.string().describe('e.g. "screening-questions"')
const version = z.string().describe('Documents name the version they were asked by')

const codeListEntry = z.looseObject({ code: z.string(), label: z.string() }).meta({
  id: 'CodeListEntry',
  description: 'Some lists say more: the weight of a screening question, the bounds of a functional test',
})

const codeList = z
  .strictObject({ key, version, source: z.string().optional(), entries: z.array(codeListEntry) })
  .meta({ id: 'CodeList' })

export function codeListRoutes(app: FastifyInstance, deps: FaceDeps): void {
  route(app, deps, {
    method: 'GET',
    url: '/v1/code-lists',
    action: 'code-lists.read',
    tag: 'code lists',
    summary: 'The lists of code words there are',
    answers: { 200: listOf(z.strictObject({ key, version, count: z.number().int() })) },
    answer: async (ctx) => ({ body: readCodeLists(ctx) }),
  })

  route(app, deps, {
    method: 'GET',
    url: '/v1/code-lists/:key',
    action: 'code-lists.read',
    tag: 'code lists',
    summary: 'One list of code words',
    description:
      'Under "flags", "reasons", "cautions" and "setup-warnings": what the code words in answers mean. A value that a flag holds back has that flag as its reason.',
    params: z.strictObject({ key: z.string() }),
    answers: { 200: codeList },
    answer: async (ctx, { params }) => ({ body: readCodeList(ctx, params) }),
  })
}

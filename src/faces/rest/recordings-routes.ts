import type { FastifyInstance } from 'fastify'
import { z } from 'zod'
import { readRecording } from '../../application/recordings/read-recording.ts'
import { wordKey } from '../../domain/shapes.ts'
import { prefersCsv } from './requests.ts'
import type { FaceDeps } from '../context.ts'
import { route } from './route.ts'
import { versionQuery } from '../shapes/common.ts'
import { recording } from '../shapes/result.ts'

export function recordingRoutes(app: FastifyInstance, deps: FaceDeps): void {
  route(app, deps, {
    method: 'GET',
    url: '/v1/sessions/:sessionId/sets/:setKey/recording',
    action: 'recordings.read',
    tag: 'results',
    summary: 'The recording of a set, as stored and analysed',
    description:
      'Held against its SHA-256 before it is shown (header Recording-Sha256). Numbers are the shortest that are stored as the same 32-bit float. With Accept: text/csv a column for each channel.', // prettier-ignore
    params: z.strictObject({ sessionId: z.uuid(), setKey: wordKey }),
    query: versionQuery,
    answers: { 200: recording },
    otherTypes: { 'text/csv': z.string().meta({ examples: ['time (s),torque (N.m),angle (deg),velocity (deg/s)'] }) },
    answer: async (ctx, { params, query, request }) => {
      const form = prefersCsv(request) ? 'csv' : 'json'
      const { sha256, text } = await readRecording(ctx, { ...params, version: query.version ?? null, form })
      const type = form === 'csv' ? 'text/csv; charset=utf-8; header=present' : 'application/json; charset=utf-8'
      return { body: text, type, headers: { 'Recording-Sha256': sha256, Vary: 'Accept' } }
    },
  })
}

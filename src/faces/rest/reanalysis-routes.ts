import type { FastifyInstance } from 'fastify'
import { z } from 'zod'
import { previewReanalysis } from '../../application/reanalysis/preview-reanalysis.ts'
import { reanalysisPreviewQuestion } from '../../domain/reanalysis-preview-document.ts'
import type { FaceDeps } from '../context.ts'
import { route } from './route.ts'
import { id, idParams, instant, plainQuantity } from '../shapes/common.ts'
import { seriesNamed } from '../shapes/trend.ts'

const verdict = z.enum(['increased', 'decreased', 'within_measurement_error', 'undetermined'])
const change = z.strictObject({ verdict, difference: plainQuantity.nullable() }).nullable()
const survives = z.enum(['yes', 'no', 'was_no_change']).describe('Whether what was called a change is one still')
const slopes = z.array(
  z.strictObject({
    run: z.string(),
    pointCount: z.number().int(),
    value: z.number().nullable(),
    unit: z.string(),
    verdict: z.string(),
  }),
)
const changes = { changeFromPrevious: change, changeFromRunStart: change, changeFromBaseline: change }

const seen = z.strictObject({
  quantity: plainQuantity.nullable(),
  reason: z.string().optional().describe('Why there is no value'),
  ...changes,
})

const reanalysisPreview = z
  .strictObject({
    series: seriesNamed,
    choices: z.strictObject({
      filter: z.strictObject({
        kind: z.string(),
        cutoffs: z.array(z.strictObject({ upTo: plainQuantity, cutoff: plainQuantity })),
      }),
      loadRange: z.strictObject({ band: plainQuantity, minimumRange: plainQuantity, minimumDuration: plainQuantity }),
      workWindow: z.string(),
      gravity: z.enum(['as_weighed', 'left_in']),
    }),
    points: z.array(
      z.strictObject({
        resultId: id,
        sessionId: id,
        at: instant,
        before: seen,
        after: seen,
        changeFromPreviousSurvives: survives,
        changeFromRunStartSurvives: survives,
        changeFromBaselineSurvives: survives,
      }),
    ),
    notAnalysedAgain: z.array(z.strictObject({ resultId: id, sessionId: id, reason: z.string() })),
    splits: z.strictObject({ before: z.number().int(), after: z.number().int() }),
    slopes: z.strictObject({ before: slopes, after: slopes }),
    notes: z.array(z.string()),
  })
  .meta({ id: 'ReanalysisPreview' })

export function reanalysisRoutes(app: FastifyInstance, deps: FaceDeps): void {
  route(app, deps, {
    method: 'POST',
    url: '/v1/subjects/:subjectId/reanalysis-preview',
    action: 'reanalysis.preview',
    tag: 'trends',
    summary: 'A limb’s history under one filter, window and gravity: which past changes survive. Stores nothing',
    params: idParams('subjectId'),
    body: reanalysisPreviewQuestion,
    answers: { 200: reanalysisPreview },
    refusals: [413],
    answer: async (ctx, { params, document }) => ({ body: await previewReanalysis(ctx, { ...params, document }) }),
  })
}

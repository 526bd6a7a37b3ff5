import { z } from 'zod'
import { createEpisode } from '../../../application/episodes/create-episode.ts'
import { editEpisode } from '../../../application/episodes/edit-episode.ts'
import { getEpisodes } from '../../../application/episodes/get-episodes.ts'
import { listObservationsOfEpisodes } from '../../../application/observations/list-observations-of-episodes.ts'
import { recordObservation } from '../../../application/observations/record-observation.ts'
import { assessReadinessOfEpisodes } from '../../../application/readiness/assess-readiness-of-episodes.ts'
import { listReportsOfEpisodes } from '../../../application/reports/list-reports-of-episodes.ts'
import { episodeDocument } from '../../../domain/episode-document.ts'
import { observationDocument } from '../../../domain/observation-document.ts'
import { readinessAsk } from '../../readiness-ask.ts'
import { readinessQuery } from '../../shapes/queries.ts'
import type { Batch } from '../context.ts'
import { create, edit, read } from '../field.ts'
import { listOf, type Types } from '../types.ts'

interface OfEpisode {
  readonly id: string
}

const episodesByIds: Batch<object, unknown> = (ctx, episodeIds) => getEpisodes(ctx, { episodeIds })
const observationsOf: Batch<object, unknown> = (ctx, episodeIds) => listObservationsOfEpisodes(ctx, { episodeIds })
const reportsOf: Batch<object, unknown> = (ctx, episodeIds) => listReportsOfEpisodes(ctx, { episodeIds })
const readinessOf: Batch<z.output<typeof readinessQuery>, unknown> = (ctx, episodeIds, query) =>
  assessReadinessOfEpisodes(ctx, { episodeIds, ...readinessAsk(query) })
readinessOf.most = 50

const byId = z.strictObject({ id: z.uuid() })

export function episodeFields(types: Types) {
  const { shapes } = types
  shapes.link('Episode', () => ({
    readiness: read<OfEpisode, never, typeof readinessQuery>(shapes, {
      description: 'Criteria met, not met or not assessable on a date, with the evidence. Never a decision: that is a licensed clinician’s, and the local protocol comes first', // prettier-ignore
      action: 'readiness.read',
      type: types.readiness,
      query: readinessQuery,
      cost: 10,
      answer: (gql, query, episode) => gql.load(readinessOf, query, episode.id),
    }),
    observations: read<OfEpisode>(shapes, {
      description: 'What clinicians observed, newest day first',
      action: 'observations.list',
      type: listOf(types.observation),
      cost: 3,
      answer: (gql, _, episode) => gql.load(observationsOf, {}, episode.id),
    }),
    reports: read<OfEpisode>(shapes, {
      description: 'Signed reports in all their versions, newest first',
      action: 'reports.list',
      type: listOf(types.reportSummary),
      cost: 3,
      answer: (gql, _, episode) => gql.load(reportsOf, {}, episode.id),
    }),
  }))

  return {
    query: {
      episode: read(shapes, {
        description: 'An episode of a subject of this clinic',
        action: 'episodes.read',
        type: types.episode,
        ids: byId,
        answer: (gql, { id }) => gql.load(episodesByIds, {}, id),
      }),
    },
    mutation: {
      createEpisode: create(shapes, {
        name: 'createEpisode',
        description: 'Create a rehab episode',
        action: 'episodes.create',
        type: types.episode,
        document: { shape: episodeDocument, input: 'EpisodeInput' },
        run: createEpisode,
      }),
      editEpisode: edit(shapes, {
        name: 'editEpisode',
        description: 'Edit an episode: a new version',
        action: 'episodes.edit',
        type: types.episode,
        ids: byId,
        document: { shape: episodeDocument, input: 'EpisodeInput' },
        run: (ctx, { params, ...input }) => editEpisode(ctx, { episodeId: params.id, ...input }),
      }),
      recordObservation: create(shapes, {
        name: 'recordObservation',
        description: 'Record what a clinician observed; a newer one with the same key and day takes its place',
        action: 'observations.create',
        type: types.observation,
        ids: z.strictObject({ episodeId: z.uuid() }),
        document: { shape: observationDocument, input: 'ObservationInput' },
        run: (ctx, { params, ...input }) => recordObservation(ctx, { ...params, ...input }),
      }),
    },
  }
}

import { z } from 'zod'
import { listReferenceSetups } from '../../../application/setups/list-reference-setups.ts'
import { readNextSetup } from '../../../application/setups/read-next-setup.ts'
import { listDynamometers } from '../../../application/dynamometers/list-dynamometers.ts'
import { getDynamometer } from '../../../application/dynamometers/get-dynamometer.ts'
import { listMeasurementErrors } from '../../../application/measurement-errors/list-measurement-errors.ts'
import { readRepeatTests } from '../../../application/measurement-errors/repeat-tests.ts'
import { repeatTestsAsk } from '../../series-ask.ts'
import { nextSetupQuery, repeatTestsQuery } from '../../shapes/queries.ts'
import { connection, pageAsked, pageQuery } from '../connection.ts'
import { read } from '../field.ts'
import { listOf, type Types } from '../types.ts'

export function setupFields(types: Types) {
  const { shapes } = types
  return {
    query: {
      nextSetup: read(shapes, {
        description: 'How to set a limb up next, in the order of the work; every value says where it comes from',
        action: 'next-setup.read',
        type: types.nextSetup,
        ids: z.strictObject({ subjectId: z.uuid() }),
        query: nextSetupQuery,
        cost: 20,
        answer: (gql, { on, ...limb }) => readNextSetup(gql.clinic(), { limb, on: on ?? null }),
      }),
      referenceSetups: read(shapes, {
        description: 'The setups pinned for the limbs of a subject, in force',
        action: 'reference-setups.list',
        type: listOf(types.referenceSetup),
        ids: z.strictObject({ subjectId: z.uuid() }),
        cost: 5,
        answer: async (gql, { subjectId }) =>
          (await listReferenceSetups(gql.clinic(), { subjectId, history: false, asKnownAt: null, limb: {} })).items,
      }),
      dynamometer: read(shapes, {
        description: 'A dynamometer as the clinic describes it now',
        action: 'dynamometers.read',
        type: types.dynamometer,
        ids: z.strictObject({ id: z.uuid() }),
        answer: (gql, { id }) => getDynamometer(gql.clinic(), { dynamometerId: id, version: null }),
      }),
      dynamometers: read(shapes, {
        description: 'The dynamometers of this clinic',
        action: 'dynamometers.list',
        type: types.dynamometers,
        query: pageQuery,
        listedBy: 'first',
        answer: async (gql, query) => {
          const page = pageAsked(query)
          return connection(await listDynamometers(gql.clinic(), { page }), page)
        },
      }),
      measurementErrors: read(shapes, {
        description: 'The clinic’s own measurement errors, oldest first',
        action: 'measurement-errors.list',
        type: types.measurementErrors,
        query: pageQuery,
        listedBy: 'first',
        answer: async (gql, query) => {
          const page = pageAsked(query)
          return connection(await listMeasurementErrors(gql.clinic(), { page }), page)
        },
      }),
      repeatTests: read(shapes, {
        description:
          'What the clinic’s repeat tests say of its measurement error: of all, by operator, by machine, by both',
        action: 'measurement-errors.list',
        type: types.repeatTests,
        query: repeatTestsQuery,
        cost: 50,
        answer: (gql, query) => readRepeatTests(gql.clinic(), repeatTestsAsk(query)),
      }),
    },
    mutation: {},
  }
}

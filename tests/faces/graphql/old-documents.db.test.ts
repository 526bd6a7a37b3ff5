/** What was accepted once is read for ever, though the words of today have become others. */
import { beforeAll, describe, expect, it } from 'vitest'
import { makeWorld, sql, type World } from '../../application/sessions/documents.ts'
import type { LooseDocument } from '../../fixtures/example-session.ts'
import { makeTestService } from '../../harness/clinic.ts'
import { testDatabase } from '../../harness/test-database.ts'
import { asker, dataOf } from './ask.ts'

const service = await makeTestService(await testDatabase())
let world: World
beforeAll(async () => {
  world = await makeWorld(service)
})

describe('a session that was stored under an earlier description', () => {
  it('is read as it was sent: a word of then, and nothing where today something is asked for', async () => {
    const { session } = await world.pushVisit('2026-03-02')
    const [stored] = await sql<LooseDocument>(service, 'select document from session_version where session_id = $1', [
      session.id,
    ])
    const { document } = stored ?? {}
    document.purpose = 'check_of_then'
    document.setups[0].bodyPosition = 'reclined_of_then'
    document.sets[0].directions[0].contractionMode = 'assisted_of_then'
    document.sets[0].reported.values[0].statistic = 'median_of_then'
    delete document.sets[0].contractionScheme
    delete document.setups[0].joint
    await sql(service, 'update session_version set document = $2 where session_id = $1', [session.id, JSON.stringify(document)]) // prettier-ignore
    const query = `query($id: ID!) { session(id: $id) { id sent { purpose setups { key joint bodyPosition }
      sets { key contractionScheme directions { movement contractionMode } reported { values { statistic measure } } } } } }`
    const { sent } = (await dataOf(asker(service, world.clinic.tokens.clinician)(query, { id: session.id }))).session
    expect(sent).toMatchObject({ purpose: 'check_of_then', setups: [{ joint: null, bodyPosition: 'reclined_of_then' }, { joint: 'knee', bodyPosition: 'seated' }] }) // prettier-ignore
    expect(sent.sets[0]).toMatchObject({
      key: document.sets[0].key,
      contractionScheme: null,
      directions: [{ movement: 'extension', contractionMode: 'assisted_of_then' }, { movement: 'flexion' }],
    })
    expect(sent.sets[0].reported.values[0]).toEqual({ statistic: 'median_of_then', measure: 'peakTorque' })
  })
})

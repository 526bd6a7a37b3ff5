import { describe, expect, it } from 'vitest'
import { withClient } from '../../src/store/migrate/with-client.ts'
import { openDatabase } from '../../src/tenancy/database.ts'
import { makeTestService } from '../harness/clinic.ts'
import { testDatabase } from '../harness/test-database.ts'

const database = await testDatabase()
const service = await makeTestService(database)
const open = service.api(null)

describe('/livez and /readyz', () => {
  it('need no token and say nothing about anyone', async () => {
    expect((await open.get('/livez')).body).toEqual({ status: 'live' })
    expect((await open.get('/readyz')).body).toEqual({ status: 'accepting', reasons: [] })
  })

  it('tell that a migration is missing: /readyz keeps requests away, /livez keeps the process', async () => {
    const rename = (from: string, to: string) =>
      withClient(database.adminUrl, (client) =>
        client.query('update _prisma_migrations set migration_name = $2 where migration_name = $1', [from, to]),
      )
    await rename('0001_init', 'moved')
    try {
      const answer = await open.get('/readyz')
      expect(answer.status).toBe(503)
      expect(answer.headers['retry-after']).toBe('2')
      expect(answer.body).toEqual({ status: 'not_accepting', reasons: ['migrations_missing'] })
      expect((await open.get('/livez')).status).toBe(200)
    } finally {
      await rename('moved', '0001_init')
    }
    expect((await open.get('/readyz')).status).toBe(200)
  })

  it('tell that the database is gone, and no more than that', async () => {
    const nowhere = new URL(database.appUrl)
    nowhere.port = '1'
    const db = openDatabase(nowhere.href, { poolSize: 2 })
    const cutOff = await makeTestService(database, { db })
    const answer = await cutOff.api(null).get('/readyz')
    expect(answer.status).toBe(503)
    expect(answer.body).toEqual({ status: 'not_accepting', reasons: ['database_not_reachable'] })
    expect((await cutOff.api(null).get('/livez')).status).toBe(200)
    await db.close()
  })

  it('keep answering under load, when everything else is told to come back', async () => {
    const busy = await makeTestService(database, { http: { logLevel: 'silent' } })
    // Blocks the event loop as a runaway computation would, past the second that under-pressure allows and samples.
    for (let i = 0; i < 3; i++) {
      const until = performance.now() + 1_600
      while (performance.now() < until) Math.sqrt(until)
      await new Promise((settle) => setTimeout(settle, 1))
    }
    const [refused, live, ready] = await Promise.all([
      busy.api(null).get('/v1/me'),
      busy.api(null).get('/livez'),
      busy.api(null).get('/readyz'),
    ])
    expect(refused.status).toBe(503)
    expect(refused.body).toMatchObject({ code: 'busy' })
    expect(refused.headers['retry-after']).toBe('5')
    expect(refused.headers['x-request-id']).toBe(refused.body.requestId)
    expect(live.status).toBe(200)
    expect(ready.body).toEqual({ status: 'not_accepting', reasons: ['under_load'] })
  })
})

import { describe, expect, it } from 'vitest'
import { withClient } from '../../src/store/migrate/with-client.ts'
import { makeTestService } from '../harness/clinic.ts'
import { testDatabase } from '../harness/test-database.ts'

const database = await testDatabase()
const service = await makeTestService(database)
const SLOTS = 10_000

const sql = <Row extends object>(text: string, url = database.adminUrl): Promise<Row[]> =>
  withClient(url, async (client) => (await client.query<Row>(text)).rows)

/** As the service writes, under its own login. */
const flood = (from: number, through: number) =>
  sql(`select record_security_event('flood-' || n, 'malformed', null, null) from generate_series(${from}, ${through}) n`, database.appUrl) // prettier-ignore

describe('the log of refusals without a clinic', () => {
  it('is a ring: whoever floods it overwrites the oldest refusals, and nothing grows', async () => {
    const [before] = await sql<{ n: number }>('select count(*)::int as n from audit_event')
    await flood(1, SLOTS + 2_345)
    const kept = await sql<{ n: number; oldest: number; newest: number }>(
      `select count(*)::int as n, min(substr(request_id, 7)::int) as oldest, max(substr(request_id, 7)::int) as newest from security_event`,
    )
    expect(kept).toEqual([{ n: SLOTS, oldest: 2_346, newest: SLOTS + 2_345 }])
    expect(await sql('select count(*)::int as n from audit_event')).toEqual([before])
  })

  it('takes a refusal over HTTP like any other, in the place of the oldest', async () => {
    await flood(1, SLOTS)
    const answer = await service.api(null).get('/v1/subjects')
    expect(answer.status).toBe(401)
    const [row] = await sql<{ code: string; route: string }>(`select code, route from security_event where request_id = '${answer.headers['x-request-id']}'`) // prettier-ignore
    expect(row).toEqual({ code: 'no_bearer_token', route: '/v1/subjects' })
    const rows = await sql<{ n: number }>(`select count(*)::int as n from security_event where request_id = 'flood-1'`)
    expect([(await sql<{ n: number }>('select count(*)::int as n from security_event'))[0]?.n, rows[0]?.n]).toEqual([SLOTS, 0]) // prettier-ignore
  })

  it('takes no word of whoever was refused: not the token, not the issuer it claims, not the address it asked for', async () => {
    const claimed = `https://${'long.'.repeat(1_000)}example`
    const [header, payload] = [{ alg: 'ES256', typ: 'at+jwt' }, { iss: claimed, sub: 'Example, Avery' }].map((part) => Buffer.from(JSON.stringify(part)).toString('base64url')) // prettier-ignore
    const answer = await service.api(`${header}.${payload}.AAAA`).get('/v1/subjects/Example-Avery?name=Avery')
    expect(answer.status).toBe(401)
    const [row] = await sql<{ text: string }>(`select s::text as text from security_event s where request_id = '${answer.headers['x-request-id']}'`) // prettier-ignore
    expect(row?.text).toContain('unknown_issuer')
    expect(row?.text).not.toMatch(/Avery|long\./)
    const [longest] = await sql<{ bytes: number }>('select max(pg_column_size(s.*)) as bytes from security_event s')
    expect(longest?.bytes).toBeLessThan(300)
  })
})

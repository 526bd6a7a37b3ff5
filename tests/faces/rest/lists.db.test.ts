import { beforeAll, describe, expect, it } from 'vitest'
import { PUBLISHED_CRITERIA_SETS } from '../../../src/compute/index.ts'
import * as codeLists from '../../../src/domain/code-lists.ts'
import { withClient } from '../../../src/store/migrate/with-client.ts'
import { CLINIC_ROLES } from '../../../src/tenancy/actor.ts'
import { freshClinic, makeTestService, type Api, type FreshClinic } from '../../harness/clinic.ts'
import { testDatabase } from '../../harness/test-database.ts'

const service = await makeTestService(await testDatabase())
let clinic: FreshClinic
let api: Api
beforeAll(async () => {
  clinic = await freshClinic(service)
  api = service.api(clinic.tokens.integration)
})

/** As a clinic of its own would have it. */
async function addCriteriaSet(clinicId: string, key: string, version: number, retired = false): Promise<void> {
  const published = PUBLISHED_CRITERIA_SETS[0]
  const document = { ...published, key, version, title: 'House rule', citation: 'Own clinic' }
  await withClient(service.database.adminUrl, (client) =>
    client.query(
      `insert into criteria_set (clinic_id, key, version, document, doc_hash, recorded_by, recorded_at, retired_at)
       values ($1, $2, $3, $4, '\\x00', $1, now(), case when $5 then now() end)`,
      [clinicId, key, version, JSON.stringify(document), retired],
    ),
  )
}

describe('code lists', () => {
  it('show every list of words that documents are held against', async () => {
    const { status, body } = await api.get('/v1/code-lists')
    expect(status).toBe(200)
    const keys = body.items.map((item: { key: string }) => item.key)
    const expected = Object.entries(codeLists)
      .filter(([name, value]) => Array.isArray(value) && name !== 'LIST_VERSIONS')
      .map(([name]) => name.toLowerCase().replaceAll('_', '-'))
    expect(keys).toEqual([...expected, 'flags', 'reasons', 'cautions', 'setup-warnings'].sort())
  })

  it('are each read whole, with version, and the source where they have one', async () => {
    const { items } = (await api.get('/v1/code-lists')).body
    for (const { key, count } of items) {
      const { status, body } = await api.get(`/v1/code-lists/${key}`)
      expect(status).toBe(200)
      expect(body).toMatchObject({ key, version: codeLists.LIST_VERSION })
      expect(body.entries).toHaveLength(count)
    }
    const screening = (await api.get('/v1/code-lists/screening-questions')).body
    expect(screening.source).toMatch(/Local protocol and licensed practice come first/)
    expect(screening.entries[0]).toEqual({
      code: 'unhealed_fracture',
      weight: 'absolute',
      label: 'A fracture that has not united',
    })
  })

  it('say in words what the flags and reasons of an answer mean', async () => {
    const flags = (await api.get('/v1/code-lists/flags')).body.entries
    const reasons = (await api.get('/v1/code-lists/reasons')).body.entries
    const swapped = { code: 'possible_side_swap', label: 'Left and right look exchanged' }
    expect(flags).toContainEqual({ ...swapped, usualLevel: 'hold' })
    // What a flag holds back has the flag as its reason.
    expect(reasons).toContainEqual(swapped)
    expect(reasons).toContainEqual({ code: 'body_mass_missing', label: 'The body mass was not recorded' })
  })

  it.each(CLINIC_ROLES)('may be read by the role %s', async (role) => {
    expect((await service.api(clinic.tokens[role]).get('/v1/code-lists')).status).toBe(200)
  })

  it('refuse a query with 400, a missing token with 401 and an unknown list with 404', async () => {
    expect((await api.get('/v1/code-lists?language=en')).status).toBe(400)
    expect((await service.api(null).get('/v1/code-lists')).status).toBe(401)
    expect((await service.api(null).get('/v1/code-lists/sides')).status).toBe(401)
    for (const key of ['none', 'SIDES', '__proto__', 'constructor', 'list-version'])
      expect((await api.get(`/v1/code-lists/${key}`)).status).toBe(404)
  })
})

describe('criteria sets', () => {
  it('show the published ones with their citation', async () => {
    const own = await freshClinic(service)
    const { status, body } = await service.api(own.tokens.clinician).get('/v1/criteria-sets')
    expect(status).toBe(200)
    expect(body.items).toEqual(PUBLISHED_CRITERIA_SETS.map((set) => ({ ...set, origin: 'published' })))
  })

  it("add the clinic's own in their newest version, and never another clinic's", async () => {
    const [own, other] = [await freshClinic(service), await freshClinic(service)]
    await addCriteriaSet(own.clinicId, 'house-rule', 1)
    await addCriteriaSet(own.clinicId, 'house-rule', 2)
    await addCriteriaSet(own.clinicId, 'given-up', 1, true)
    await addCriteriaSet(other.clinicId, 'their-rule', 1)
    const mine = service.api(own.tokens.clinician)
    const { items } = (await mine.get('/v1/criteria-sets')).body
    const ours = items.filter((item: { origin: string }) => item.origin === 'clinic')
    expect(ours).toMatchObject([{ key: 'house-rule', version: 2 }])
    expect((await mine.get('/v1/criteria-sets/house-rule')).body.version).toBe(2)
    expect((await mine.get('/v1/criteria-sets/house-rule?version=1')).body).toMatchObject({
      version: 1,
      origin: 'clinic',
    })
    const mask = (text: string) => text.replace(/"requestId":"[^"]+"/, '')
    const foreign = await mine.get('/v1/criteria-sets/their-rule')
    expect(foreign.status).toBe(404)
    expect(mask(foreign.text)).toBe(mask((await mine.get('/v1/criteria-sets/no-such-rule')).text))
  })

  it('are read one by one, with 400, 401 and 404 as everywhere', async () => {
    expect((await api.get('/v1/criteria-sets/kyritsis-2016')).body).toMatchObject({
      key: 'kyritsis-2016',
      origin: 'published',
    })
    expect((await api.get('/v1/criteria-sets/kyritsis-2016?version=99')).status).toBe(404)
    expect((await api.get('/v1/criteria-sets/kyritsis-2016?version=x')).status).toBe(400)
    expect((await api.get('/v1/criteria-sets?page=2')).status).toBe(400)
    expect((await service.api(null).get('/v1/criteria-sets')).status).toBe(401)
    expect((await service.api(null).get('/v1/criteria-sets/kyritsis-2016')).status).toBe(401)
  })
})

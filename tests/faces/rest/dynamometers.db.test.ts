import { v7 as uuidv7 } from 'uuid'
import { beforeEach, describe, expect, it } from 'vitest'
import { freshClinic, makeTestService, type Api, type FreshClinic } from '../../harness/clinic.ts'
import { calibrationBody, dynamometerBody, idOf } from '../../harness/samples.ts'
import { testDatabase } from '../../harness/test-database.ts'

const service = await makeTestService(await testDatabase())
let clinic: FreshClinic
let api: Api
beforeEach(async () => {
  clinic = await freshClinic(service)
  api = service.api(clinic.tokens.clinician)
})

describe('success: a dynamometer', () => {
  it('is described in the words of the clinic and read back as it was', async () => {
    const answer = await api.post('/v1/dynamometers', dynamometerBody())
    const id = idOf(answer)
    expect(answer.headers).toMatchObject({ location: `/v1/dynamometers/${id}`, etag: '"1"' })
    expect(answer.body).toMatchObject({ ...dynamometerBody(), id, descriptionVersion: 1 })
    expect((await api.get(`/v1/dynamometers/${id}`)).body).toEqual(answer.body)
    expect((await api.get('/v1/dynamometers')).body).toEqual({ items: [answer.body], nextCursor: null })
  })

  it('keeps every description: sessions were recorded under them', async () => {
    const id = idOf(await api.post('/v1/dynamometers', dynamometerBody()))
    const edited = await api.put(`/v1/dynamometers/${id}`, { ...dynamometerBody(), name: 'Moved to room 2' }, '"1"')
    expect(edited.body).toMatchObject({ descriptionVersion: 2, name: 'Moved to room 2' })
    const version = async (n: number) => (await api.get(`/v1/dynamometers/${id}?descriptionVersion=${n}`)).body.name
    expect(await version(1)).toBe(dynamometerBody().name)
    expect(await version(2)).toBe('Moved to room 2')
  })

  it('with the same external id and content is the same dynamometer', async () => {
    const id = idOf(await api.post('/v1/dynamometers', dynamometerBody()))
    const again = await api.post('/v1/dynamometers', dynamometerBody())
    expect(again.status).toBe(200)
    expect(again.body.id).toBe(id)
  })

  it('is checked with a known weight at a known arm: 20 kg at 0.5 m is 98.1 N.m by standard gravity', async () => {
    const id = idOf(await api.post('/v1/dynamometers', dynamometerBody()))
    const answer = await api.post(`/v1/dynamometers/${id}/calibration-checks`, calibrationBody())
    expect(answer.status).toBe(201)
    // 20 x 0.5 x 9.80665 = 98.0665; 98.4 read is 0.3335 N.m or 0.34 % above it.
    expect(answer.body.expectedTorque.value).toBeCloseTo(98.0665, 9)
    expect(answer.body.drift.value).toBeCloseTo(0.3335, 9)
    expect(answer.body.relativeDrift.value).toBeCloseTo((100 * 0.3335) / 98.0665, 9)
    expect((await api.get(`/v1/dynamometers/${id}/calibration-checks`)).body.items).toEqual([answer.body])
  })
})

describe('400', () => {
  const setting = dynamometerBody().settings[0]
  it.each([
    ['a key twice', { settings: [setting, setting] }, '#/settings/1/key'],
    ['a unit that is none', { settings: [{ ...setting, unit: 'degrees' }] }, '#/settings/0/unit'],
    [
      'a range that ends before it begins',
      { settings: [{ ...setting, range: { low: 9, high: 1 } }] },
      '#/settings/0/range',
    ],
    ['a field we do not know', { serialNumber: '1' }, '#/serialNumber'],
    ['no name', { name: undefined }, '#/name'],
  ])('refuses %s', async (_what, change, pointer) => {
    const answer = await api.post('/v1/dynamometers', { ...dynamometerBody(), ...change })
    expect(answer.status).toBe(400)
    expect(answer.body.errors).toMatchObject([{ pointer }])
  })

  it('refuses another external id in an edit', async () => {
    const id = idOf(await api.post('/v1/dynamometers', dynamometerBody()))
    const answer = await api.put(`/v1/dynamometers/${id}`, dynamometerBody('another'), '"1"')
    expect(answer.status).toBe(400)
    expect(answer.body.errors).toMatchObject([{ pointer: '#/externalId' }])
  })

  it('refuses a calibration check that is due before it was made, and one from the future', async () => {
    const id = idOf(await api.post('/v1/dynamometers', dynamometerBody()))
    const faults = async (change: object) => {
      const answer = await api.post(`/v1/dynamometers/${id}/calibration-checks`, { ...calibrationBody(), ...change })
      return answer.body.errors?.map((one: { code: string; pointer: string }) => `${one.code} ${one.pointer}`)
    }
    expect(await faults({ checkedAt: '2026-06-01T23:30:00+02:00', nextDueOn: '2026-05-31' })).toEqual(['out_of_order #/nextDueOn']) // prettier-ignore
    expect(await faults({ checkedAt: '2026-06-01T23:30:00+02:00', nextDueOn: '2026-06-01' })).toBeUndefined()
    const ahead = (hours: number) => new Date(Date.now() + hours * 3_600_000).toISOString()
    expect(await faults({ checkedAt: ahead(25), nextDueOn: undefined })).toEqual(['in_the_future #/checkedAt'])
    expect(await faults({ checkedAt: ahead(23), nextDueOn: undefined })).toBeUndefined()
  })

  it('refuses a calibration check without its weight', async () => {
    const id = idOf(await api.post('/v1/dynamometers', dynamometerBody()))
    const answer = await api.post(`/v1/dynamometers/${id}/calibration-checks`, {
      ...calibrationBody(),
      mass: undefined,
    })
    expect(answer.body.errors).toMatchObject([{ pointer: '#/mass', code: 'missing' }])
  })
})

describe('401, 403, 404', () => {
  it('401 without a token', async () => {
    for (const url of [
      '/v1/dynamometers',
      `/v1/dynamometers/${uuidv7()}`,
      `/v1/dynamometers/${uuidv7()}/calibration-checks`,
    ])
      expect((await service.api(null).get(url)).status).toBe(401)
  })

  it('403 for an assistant who would describe one, though it may check one', async () => {
    const assistant = service.api(clinic.tokens.assistant)
    const id = idOf(await api.post('/v1/dynamometers', dynamometerBody()))
    expect((await assistant.post('/v1/dynamometers', dynamometerBody('x'))).status).toBe(403)
    expect((await assistant.put(`/v1/dynamometers/${id}`, dynamometerBody(), '"1"')).status).toBe(403)
    expect((await assistant.post(`/v1/dynamometers/${id}/calibration-checks`, calibrationBody())).status).toBe(201)
  })

  it('403 for an integration that would check one, and for an auditor who would look', async () => {
    const id = idOf(await api.post('/v1/dynamometers', dynamometerBody()))
    const integration = service.api(clinic.tokens.integration)
    expect((await integration.post(`/v1/dynamometers/${id}/calibration-checks`, calibrationBody())).status).toBe(403)
    expect((await service.api(clinic.tokens.auditor).get(`/v1/dynamometers/${id}`)).status).toBe(403)
  })

  it('404 for one that does not exist, and for a description that it never had', async () => {
    const id = idOf(await api.post('/v1/dynamometers', dynamometerBody()))
    expect((await api.get(`/v1/dynamometers/${uuidv7()}`)).status).toBe(404)
    expect((await api.get(`/v1/dynamometers/${id}?descriptionVersion=2`)).status).toBe(404)
    expect((await api.get(`/v1/dynamometers/${uuidv7()}/calibration-checks`)).status).toBe(404)
  })
})

describe('409, 412, 428', () => {
  it('guard the description', async () => {
    const id = idOf(await api.post('/v1/dynamometers', dynamometerBody()))
    const other = await api.post('/v1/dynamometers', { ...dynamometerBody(), name: 'Another machine' })
    expect(other.status).toBe(409)
    expect(other.body).toMatchObject({ code: 'external_id_conflict', differs: ['#/name'] })
    expect((await api.put(`/v1/dynamometers/${id}`, dynamometerBody(), null)).status).toBe(428)
    expect((await api.put(`/v1/dynamometers/${id}`, dynamometerBody(), '"9"')).status).toBe(412)
  })
})

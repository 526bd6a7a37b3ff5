import { v7 as uuidv7 } from 'uuid'
import { beforeEach, describe, expect, it } from 'vitest'
import { freshClinic, makeTestService, type Answer, type Api, type FreshClinic } from '../../harness/clinic.ts'
import { createSubject, idOf, subjectBody } from '../../harness/samples.ts'
import { testDatabase } from '../../harness/test-database.ts'

const service = await makeTestService(await testDatabase())
interface Page {
  items: { id: string }[]
  nextCursor: string | null
}

let clinic: FreshClinic
let api: Api
beforeEach(async () => {
  clinic = await freshClinic(service)
  api = service.api(clinic.tokens.clinician)
})

describe('success: a subject', () => {
  it('is answered as it was written, with id, version and time', async () => {
    const answer = await api.post('/v1/subjects', subjectBody())
    const id = idOf(answer)
    expect(answer.headers).toMatchObject({ location: `/v1/subjects/${id}`, etag: '"1"' })
    expect(answer.body).toEqual({ ...subjectBody(), id, version: 1, recordedAt: expect.stringMatching(/Z$/) as string })
    const read = await api.get(`/v1/subjects/${id}`)
    expect(read.status).toBe(200)
    expect(read.headers.etag).toBe('"1"')
    expect(read.body).toEqual(answer.body)
  })

  it('keeps every accepted string as it was sent, character for character', async () => {
    const name = 'Žofie O’Née 👩‍🔬 \u202Eabc\u202C \t"\\u0041" é e\u0301'
    const { body } = await api.get(`/v1/subjects/${idOf(await api.post('/v1/subjects', { ...subjectBody(), name }))}`)
    expect(body.name).toBe(name)
  })

  it('is found by its identifier and never by its name', async () => {
    const id = await createSubject(api, 'RB-7')
    const query = 'identifierSystem=https%3A%2F%2Fclinic.example%2Frecord-number&identifierValue=RB-7'
    const found = await api.get(`/v1/subjects?${query}`)
    expect(found.body.items.map((item: { id: string }) => item.id)).toEqual([id])
    const byName = await api.get('/v1/subjects?name=Example')
    expect(byName.status).toBe(400)
  })

  it('is edited into a new version', async () => {
    const id = await createSubject(api)
    const edited = await api.put(`/v1/subjects/${id}`, { ...subjectBody(), sport: 'rowing' }, '"1"')
    expect(edited.status).toBe(200)
    expect(edited.headers.etag).toBe('"2"')
    expect((await api.get(`/v1/subjects/${id}`)).body).toMatchObject({ version: 2, sport: 'rowing' })
  })

  it.each(['owner', 'clinician', 'assistant', 'integration'] as const)(
    'may be created by the role %s',
    async (role) => {
      await createSubject(service.api(clinic.tokens[role]))
    },
  )
})

describe('success: the list', () => {
  it('is walked page by page without gap or repeat, while subjects are added', async () => {
    const ids: string[] = []
    for (let i = 0; i < 5; i++) ids.push(await createSubject(api, `RB-${i}`))
    const seen: string[] = []
    let cursor: string | null = null
    do {
      const { status, body }: Answer<Page> = await api.get(
        `/v1/subjects?limit=2${cursor === null ? '' : `&cursor=${cursor}`}`,
      )
      expect(status).toBe(200)
      expect(body.items.length).toBeLessThanOrEqual(2)
      seen.push(...body.items.map((item: { id: string }) => item.id))
      if (seen.length === 2) ids.push(await createSubject(api, 'RB-late'))
      cursor = body.nextCursor
    } while (cursor !== null)
    expect(seen).toEqual(ids)
  })
})

describe('400', () => {
  it('lists every fault of a document at once, each with its pointer', async () => {
    const answer = await api.post('/v1/subjects', {
      ...subjectBody(),
      sex: 'w',
      birthDate: '14.3.2001',
      height: { value: 171, unit: 'kg' },
      nickname: 'Ave',
    })
    expect(answer.status).toBe(400)
    expect(answer.headers['content-type']).toBe('application/problem+json')
    const faults = answer.body.errors as { pointer: string; code: string }[]
    expect(faults.map(({ pointer, code }) => `${pointer} ${code}`).sort()).toEqual([
      '#/birthDate invalid_format',
      '#/height/unit unit_wrong_kind',
      '#/nickname unknown_field',
      '#/sex not_in_list',
    ])
    expect(answer.text).not.toContain('14.3.2001')
  })

  it.each([
    ['an unknown field', { shoeSize: 41 }, 'unknown_field'],
    ['a unit that is not UCUM', { height: { value: 1.7, unit: 'metres' } }, 'unit_not_accepted'],
    ['a height of 9 m', { height: { value: 9, unit: 'm' } }, 'value_out_of_range'],
    ['a date that no calendar has', { birthDate: '2001-02-30' }, 'invalid_document'],
    ['a name of 201 characters', { name: 'x'.repeat(201) }, 'invalid_document'],
    ['a null where a text belongs', { name: null }, 'invalid_document'],
  ])('refuses %s and stores nothing', async (_what, change, code) => {
    const answer = await api.post('/v1/subjects', { ...subjectBody(), ...change })
    expect(answer.status).toBe(400)
    expect(answer.body.code).toBe(code)
    expect((await api.get('/v1/subjects')).body.items).toEqual([])
  })

  it.each([
    ['?limit=0'],
    ['?limit=201'],
    ['?limit=1e9'],
    ['?limit=2&limit=3'],
    ['?cursor='],
    ['?page=2'],
    ['?identifierSystem=https://clinic.example'],
    ['?identifierValue=RB-7'],
  ])('refuses the query %s', async (query) => {
    const answer = await api.get(`/v1/subjects${query}`)
    expect(answer.status).toBe(400)
    expect(answer.body.code).toBe('invalid_query')
  })

  it.each(['bm8', 'djE6bm90LWEtdXVpZA', `${Buffer.from(`v2:${uuidv7()}`).toString('base64url')}`])(
    'refuses the cursor %s, which is not one of ours',
    async (cursor) => {
      const answer = await api.get(`/v1/subjects?cursor=${cursor}`)
      expect(answer.status).toBe(400)
      expect(answer.body.code).toBe('invalid_cursor')
    },
  )
})

describe('401', () => {
  it.each([['/v1/subjects'], [`/v1/subjects/${uuidv7()}`]])('is what %s answers without a token', async (url) => {
    expect((await service.api(null).get(url)).status).toBe(401)
  })
})

describe('403', () => {
  it('is what an auditor gets, before anything else is looked at', async () => {
    const auditor = service.api(clinic.tokens.auditor)
    const id = await createSubject(api)
    for (const answer of [
      await auditor.get('/v1/subjects'),
      await auditor.get(`/v1/subjects/${id}`),
      await auditor.get(`/v1/subjects/${uuidv7()}`),
      await auditor.post('/v1/subjects', { nonsense: true }),
      await auditor.put(`/v1/subjects/${id}`, subjectBody(), '"1"'),
    ]) {
      expect(answer.status).toBe(403)
      expect(answer.body.code).toBe('forbidden')
    }
  })
})

describe('404', () => {
  it.each(['nobody', '0', uuidv7(), '..%2Fsubjects', 'a'.repeat(150)])('is what the id %s gets', async (id) => {
    const answer = await api.get(`/v1/subjects/${id}`)
    expect(answer.status).toBe(404)
    expect(answer.body.code).toBe('not_found')
  })
})

describe('409', () => {
  it('is what a second subject with the same identifier gets, and it names no one', async () => {
    await createSubject(api, 'RB-1')
    const answer = await api.post('/v1/subjects', { ...subjectBody('RB-1'), name: 'Other, Person' })
    expect(answer.status).toBe(409)
    expect(answer.body).toMatchObject({ code: 'identifier_conflict', errors: [{ pointer: '#/identifiers/0' }] })
    expect(answer.text).not.toContain('Example')
  })

  it('is what an edit towards the identifier of another subject gets', async () => {
    await createSubject(api, 'RB-1')
    const id = await createSubject(api, 'RB-2')
    expect((await api.put(`/v1/subjects/${id}`, subjectBody('RB-1'), '"1"')).status).toBe(409)
    expect((await api.get(`/v1/subjects/${id}`)).body).toMatchObject({ version: 1, identifiers: [{ value: 'RB-2' }] })
  })

  it('leaves one subject when two with one identifier are sent at once', async () => {
    const answers = await Promise.all(
      [1, 2].map((n) => api.post('/v1/subjects', { ...subjectBody('RB-1'), sport: `s${n}` })),
    )
    expect(answers.map((a) => a.status).sort((a, b) => a - b)).toEqual([201, 409])
    expect((await api.get('/v1/subjects')).body.items).toHaveLength(1)
  })
})

describe('428 and 412', () => {
  it('ask for the version that is edited', async () => {
    const id = await createSubject(api)
    const answer = await api.put(`/v1/subjects/${id}`, subjectBody(), null)
    expect(answer.status).toBe(428)
    expect(answer.body.code).toBe('version_required')
  })

  it.each(['"2"', '1', 'W/"1"', '*', '"1", "2"'])('refuse %s when version 1 is in force', async (version) => {
    const id = await createSubject(api)
    const answer = await api.put(`/v1/subjects/${id}`, subjectBody(), version)
    expect(answer.status).toBe(412)
    expect(answer.body).toMatchObject({ code: 'stale_version', currentVersion: 1 })
  })

  it('come before the faults of the document', async () => {
    const id = await createSubject(api)
    expect((await api.put(`/v1/subjects/${id}`, { nonsense: true }, null)).status).toBe(428)
    expect((await api.put(`/v1/subjects/${id}`, { nonsense: true }, '"7"')).status).toBe(412)
    expect((await api.put(`/v1/subjects/${id}`, { nonsense: true }, '"1"')).status).toBe(400)
  })

  it('lose no update: of two edits of one version at once, one is told that it is stale', async () => {
    const id = await createSubject(api)
    const answers = await Promise.all(
      ['rowing', 'judo'].map((sport) => api.put(`/v1/subjects/${id}`, { ...subjectBody(), sport }, '"1"')),
    )
    expect(answers.map((a) => a.status).sort((a, b) => a - b)).toEqual([200, 412])
    const won = answers.find((a) => a.status === 200)
    expect((await api.get(`/v1/subjects/${id}`)).body).toEqual(won?.body)
  })
})

import { PassThrough } from 'node:stream'
import { pino } from 'pino'
import { describe, expect, it } from 'vitest'
import { logOptions, REDACTED } from '../../src/server/logging.ts'
import { withClinic } from '../../src/tenancy/with-clinic.ts'
import { freshClinic, makeTestService } from '../harness/clinic.ts'
import { createSubject, episodeBody, idOf, subjectBody } from '../harness/samples.ts'
import { testDatabase } from '../harness/test-database.ts'

const service = await makeTestService(await testDatabase())

const CANARY = 'Kanarienvogel'
const canaries = {
  ...subjectBody(`${CANARY}-number`),
  name: `${CANARY}, Given`,
  sport: `${CANARY}-sport`,
  birthDate: '1987-06-05',
}

describe('the log', () => {
  it('has no name, identifier, birth date, token or note in any byte, whatever is done and whatever goes wrong', async () => {
    const clinic = await freshClinic(service)
    const api = service.api(clinic.tokens.clinician)
    const id = idOf(await api.post('/v1/subjects', canaries))
    await api.get(`/v1/subjects/${id}`)
    await api.get(`/v1/subjects?identifierSystem=x&identifierValue=${CANARY}-number`)
    await api.put(`/v1/subjects/${id}`, { ...canaries, sex: CANARY }, '"1"')
    await api.post('/v1/subjects', canaries)
    await api.post('/v1/subjects', null, { bytes: `{"name":"${CANARY}"` })
    await api.post('/v1/episodes', { ...episodeBody(id), condition: `${CANARY} rupture` })
    await api.get(`/v1/${CANARY}`)
    await api.get(`/v1/subjects/${CANARY}`)
    await service.api(`${CANARY}.${CANARY}.${CANARY}`).get('/v1/me')
    await api.get('/v1/me', { headers: { purpose: CANARY, cookie: CANARY, 'x-forwarded-for': CANARY } })
    const log = service.logged()
    expect(log).toContain('"route":"/v1/subjects/:subjectId"')
    expect(log).not.toContain(CANARY)
    expect(log).not.toContain('1987-06-05')
    expect(log).not.toContain(clinic.tokens.clinician)
    expect(log).not.toContain(clinic.tokens.clinician.split('.')[1])
    expect(log).not.toContain(clinic.name)
  })

  it('shows the frames of a database error and not its message, which quotes what was written', async () => {
    const clinic = await freshClinic(service)
    const subjectId = await createSubject(service.api(clinic.tokens.clinician))
    const error: unknown = await withClinic(service.db, { clinicId: clinic.clinicId }, (tx) =>
      tx.subjectVersion.create({
        data: {
          clinicId: clinic.clinicId,
          subjectId,
          document: { name: `${CANARY}\n    at ${CANARY} (file:1:1)` },
        } as never,
      }),
    ).catch((thrown: unknown) => thrown)
    expect(String(error)).toContain(CANARY)
    const log = logOf((logger) => logger.error({ err: error }, 'request failed'))
    expect(log).toContain('PrismaClientValidationError')
    expect(log).toMatch(/ {4}at /)
    expect(log).not.toContain(CANARY)
  })

  it.each(REDACTED)('blackens %s wherever someone logs it, three levels down', (key) => {
    const log = logOf((logger) => logger.info({ [key]: CANARY, a: { [key]: CANARY, b: { [key]: CANARY } } }))
    expect(log).not.toContain(CANARY)
    expect(log.match(/\[redacted\]/g)).toHaveLength(3)
  })

  it('pins the list of what is blackened', () => {
    expect(REDACTED).toEqual([
      'authorization',
      'cookie',
      'token',
      'password',
      'name',
      'birthDate',
      'identifier',
      'notes',
      'note',
      'body',
      'document',
    ])
  })

  it('of a request is one line with method, route, status and time, and its id', async () => {
    const clinic = await freshClinic(service)
    const { headers } = await service.api(clinic.tokens.owner).get('/v1/me')
    const lines = service
      .logged()
      .split('\n')
      .filter((line) => line.includes(headers['x-request-id'] ?? 'no id'))
      .map((line) => JSON.parse(line) as Record<string, unknown>)
    expect(lines).toHaveLength(1)
    expect(Object.keys(lines[0] ?? {}).sort()).toEqual([
      'level',
      'method',
      'ms',
      'msg',
      'reqId',
      'route',
      'status',
      'time',
    ])
  })
})

function logOf(write: (logger: pino.Logger) => void): string {
  let text = ''
  const { stream: _, ...options } = logOptions('info')
  write(
    pino(
      options,
      new PassThrough().on('data', (chunk: Buffer) => (text += chunk.toString())),
    ),
  )
  return text
}

import { v7 as uuidv7 } from 'uuid'
import { afterEach, beforeEach, describe, expect, it, vi } from 'vitest'
import { run } from '../../src/cli/limb-ledger.ts'
import { withClient } from '../../src/store/migrate/with-client.ts'
import { ISSUER, makeTestService } from '../harness/clinic.ts'
import { testDatabase } from '../harness/test-database.ts'

const database = await testDatabase()
const service = await makeTestService(database)

beforeEach(() => {
  vi.stubEnv('ADMIN_DATABASE_URL', database.adminUrl)
  vi.stubEnv('ISSUERS', JSON.stringify([{ issuer: ISSUER, jwksUrl: 'https://issuer.test.example/jwks' }]))
  vi.stubEnv('NODE_ENV', 'test')
})
afterEach(() => {
  vi.unstubAllEnvs()
  vi.restoreAllMocks()
})

async function command(...argv: string[]): Promise<{ code: number; out: string; err: string }> {
  const out: string[] = []
  const err: string[] = []
  const log = vi.spyOn(console, 'log').mockImplementation((text: string) => void out.push(text))
  const error = vi.spyOn(console, 'error').mockImplementation((text: string) => void err.push(text))
  const code = await run(argv)
  log.mockRestore()
  error.mockRestore()
  return { code, out: out.join('\n'), err: err.join('\n') }
}

/** The id a command printed. */
async function made(...argv: string[]): Promise<string> {
  const { code, out, err } = await command(...argv)
  if (code !== 0) throw new Error(err)
  return Object.values(JSON.parse(out) as Record<string, string>)[0] ?? ''
}

const clinic = () => made('create-clinic', '--name', 'Lowmoor', '--time-zone', 'Europe/London')
const person = (clinicId: string, sub: string, role: string) =>
  ['add-member', '--clinic', clinicId, '--sub', sub, '--role', role, '--display-name', 'Example, Member'] as const

async function events(clinicId: string): Promise<unknown[]> {
  return withClient(database.adminUrl, async (client) => {
    const { rows } = await client.query<Record<string, unknown>>(
      `select action, outcome, actor_role, actor_principal_id, resource_ids, details from audit_event
       where clinic_id = $1 and actor_role = 'operator' order by ord`,
      [clinicId],
    )
    return rows
  })
}

describe('an operator', () => {
  it('makes a clinic and lets people and machines in, who then are whom they were said to be', async () => {
    const clinicId = await clinic()
    const sub = uuidv7()
    const principalId = await made(
      ...person(clinicId, sub, 'clinician'),
      '--licence',
      'L-7',
      '--identifier',
      'https://x.example/staff=ST-14',
    )
    const me = await service.api(await service.mint({ sub, clinic: clinicId })).get('/v1/me')
    expect(me.body).toMatchObject({
      principalId,
      role: 'clinician',
      licensed: true,
      clinic: { id: clinicId, name: 'Lowmoor', timeZone: 'Europe/London' },
    })
    await made('add-integration', '--clinic', clinicId, '--sub', `${sub}-machine`, '--display-name', 'Record system')
    const machine = await service.api(await service.mint({ sub: `${sub}-machine`, clinic: clinicId })).get('/v1/me')
    expect(machine.body).toMatchObject({ role: 'integration', licensed: false })
  })

  it('removes a member, who is out at once and may come back with another role', async () => {
    const clinicId = await clinic()
    const sub = uuidv7()
    const principalId = await made(...person(clinicId, sub, 'assistant'))
    const api = service.api(await service.mint({ sub, clinic: clinicId }))
    expect((await api.get('/v1/me')).status).toBe(200)
    expect((await command('remove-member', '--clinic', clinicId, '--sub', sub)).code).toBe(0)
    expect((await api.get('/v1/me')).status).toBe(401)
    expect(await made(...person(clinicId, sub, 'owner'))).toBe(principalId)
    expect((await api.get('/v1/me')).body).toMatchObject({ role: 'owner', principalId })
  })

  it("leaves an event of each act in the clinic's own ledger", async () => {
    const clinicId = await clinic()
    const sub = uuidv7()
    const principalId = await made(...person(clinicId, sub, 'owner'))
    await command('remove-member', '--clinic', clinicId, '--sub', sub)
    const act = { outcome: 'done', actor_role: 'operator', actor_principal_id: null }
    expect(await events(clinicId)).toEqual([
      { ...act, action: 'clinics.create', resource_ids: [`clinic/${clinicId}`], details: { issuers: [ISSUER] } },
      {
        ...act,
        action: 'members.add',
        resource_ids: [`principal/${principalId}`],
        details: { role: 'owner', licensed: false },
      },
      { ...act, action: 'members.remove', resource_ids: [`principal/${principalId}`], details: { role: 'owner' } },
    ])
  })

  it('changes nothing when the event cannot be written', async () => {
    const clinicId = await clinic()
    const sub = uuidv7()
    const rule = (text: string) => withClient(database.adminUrl, (client) => client.query(text))
    await rule(`alter table audit_event add constraint no_more check (action <> 'members.add') not valid`)
    try {
      expect((await command(...person(clinicId, sub, 'owner'))).code).toBe(1)
    } finally {
      await rule('alter table audit_event drop constraint no_more')
    }
    expect((await service.api(await service.mint({ sub, clinic: clinicId })).get('/v1/me')).status).toBe(401)
  })

  it('makes a team and lets a person read for it', async () => {
    const teamId = await made('create-team', '--name', 'Copper Bay Netball')
    const sub = uuidv7()
    await made('add-team-reader', '--team', teamId, '--sub', sub, '--display-name', 'Reader')
    const me = await service.api(await service.mint({ sub, team: teamId })).get('/v1/me')
    expect(me.body).toMatchObject({ team: { id: teamId, name: 'Copper Bay Netball' }, role: 'reader' })
  })

  it('takes a reader out of a team, who is out at once and may come back', async () => {
    const teamId = await made('create-team', '--name', 'Copper Bay Netball')
    const sub = uuidv7()
    const token = await service.mint({ sub, team: teamId })
    const status = async () => (await service.api(token).get('/v1/me')).status
    const add = ['add-team-reader', '--team', teamId, '--sub', sub, '--display-name', 'Reader']
    const remove = ['remove-team-reader', '--team', teamId, '--sub', sub]
    await made(...add)
    expect([await status(), (await command(...remove)).code, await status()]).toEqual([200, 0, 401])
    const again = await command(...remove)
    expect([again.code, again.err]).toEqual([1, expect.stringContaining('is no reader of this team')])
    await made(...add)
    expect(await status()).toBe(200)
  })
})

describe('a command refuses in one sentence', () => {
  const nobody = uuidv7()
  it.each([
    ['an option that is missing', 2, ['create-clinic', '--name', 'A'], '--time-zone is needed'],
    ['an option it does not know', 2, ['create-clinic', '--nmae', 'A'], '--nmae'],
    ['a time zone that is none', 2, ['create-clinic', '--name', 'A', '--time-zone', 'Atlantis'], 'IANA name'],
    ['an id that is no UUID', 2, person('7', 'a', 'owner'), '--clinic wants a UUID'],
    ['a role that is none', 2, person(nobody, 'a', 'surgeon'), '--role wants one of'],
    ['a machine as a person', 2, person(nobody, 'a', 'integration'), '--role wants one of'],
    ['a clinic that does not exist', 1, person(nobody, 'a', 'owner'), 'no clinic with this id'],
    [
      'a team that does not exist',
      1,
      ['add-team-reader', '--team', nobody, '--sub', 'a', '--display-name', 'A'],
      'no team with this id',
    ],
    ['a token for nowhere', 2, ['mint-token', '--sub', 'a'], '--clinic or --team'],
    ['a token for a day', 2, ['mint-token', '--sub', 'a', '--clinic', nobody, '--hours', '24'], 'up to 12'],
    ['a command that does not exist', 2, ['fly'], 'no command "fly"'],
  ] as const)('%s', async (_what, code, argv, words) => {
    const answer = await command(...argv)
    expect(answer.code).toBe(code)
    expect(answer.out).toBe('')
    expect(answer.err).toContain(words)
    expect(answer.err).not.toMatch(/ {4}at |postgresql:\/\//)
  })

  it('a member who is one already, and an issuer that the clinic does not list', async () => {
    const clinicId = await clinic()
    await made(...person(clinicId, 'ann', 'owner'))
    expect((await command(...person(clinicId, 'ann', 'auditor'))).err).toContain(
      'ann is a member of this clinic already',
    )
    const foreign = await command(...person(clinicId, 'bob', 'owner'), '--issuer', 'https://other.example')
    expect(foreign.err).toContain('does not list the issuer https://other.example')
    expect((await command('remove-member', '--clinic', clinicId, '--sub', 'bob')).err).toContain(
      'is no member of this clinic',
    )
  })

  it('a database that is named without the login of its owner, rather than making a clinic in another', async () => {
    vi.stubEnv('ADMIN_DATABASE_URL', undefined)
    vi.stubEnv('DATABASE_URL', database.appUrl)
    const answer = await command('create-clinic', '--name', 'Lowmoor', '--time-zone', 'Europe/London')
    expect(answer).toMatchObject({ code: 2, out: '' })
    expect(answer.err).toContain('ADMIN_DATABASE_URL is not set')
  })

  it('the embedded issuer in production', async () => {
    vi.stubEnv('NODE_ENV', 'production')
    for (const name of [
      'DATABASE_URL',
      'SEALER_DATABASE_URL',
      'WITNESS_FILE',
      'SIGNING_KEY_FILE',
      'SUBJECT_KEY_FILE',
      'TEAM_DATABASE_URL',
      'REPORT_KEYS_FILE',
    ])
      vi.stubEnv(name, 'x')
    for (const argv of [['mint-token', '--sub', 'a', '--clinic', nobody], ['serve-issuer']]) {
      const answer = await command(...argv)
      expect(answer.code).toBe(1)
      expect(answer.err).toContain('does not run in production')
    }
  })
})

describe('--help', () => {
  it.each([
    'push',
    'create-clinic',
    'add-member',
    'add-integration',
    'remove-member',
    'create-team',
    'add-team-reader',
    'remove-team-reader',
    'mint-token',
    'serve-issuer',
  ])('of %s says how it is used, and does nothing', async (name) => {
    const { code, out } = await command(name, '--help')
    expect(code).toBe(0)
    expect(out).toMatch(new RegExp(`^Usage: limb-ledger ${name} `))
  })
})

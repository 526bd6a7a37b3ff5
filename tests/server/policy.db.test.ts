import { v7 as uuidv7 } from 'uuid'
import { beforeAll, describe, expect, it } from 'vitest'
import { AppError } from '../../src/domain/errors.ts'
import { CLINIC_ROLES, type ClinicActor, type ClinicRole } from '../../src/tenancy/actor.ts'
import {
  actionsOf,
  authorise,
  mayDo,
  POLICY,
  TEAM_ACTIONS,
  type Action,
  type TeamAction,
} from '../../src/tenancy/policy.ts'
import { freshClinic, freshTeam, makeTestService, type FreshClinic } from '../harness/clinic.ts'
import { testDatabase } from '../harness/test-database.ts'

interface Route {
  readonly method: 'GET' | 'POST' | 'PUT'
  readonly url: string
  readonly action: Action | undefined
  readonly teamAction: TeamAction | undefined
}
const service = await makeTestService(await testDatabase())

/** From the description, which has every route but those of the reference page. */
const routes: Route[] = Object.entries(service.app.swagger().paths ?? {}).flatMap(([path, item]) =>
  Object.entries(item ?? {}).map(([method, operation]) => ({
    method: method.toUpperCase() as Route['method'],
    url: path.replaceAll(/\{(\w+)\}/g, ':$1'),
    action: (operation as { 'x-action'?: Action })['x-action'],
    teamAction: (operation as { 'x-team-action'?: TeamAction })['x-team-action'],
  })),
)

let clinic: FreshClinic
beforeAll(async () => {
  clinic = await freshClinic(service)
})

/** Keys that anyone may check a signature with, and the two for the machine room. */
const OPEN = [
  '/.well-known/limb-ledger/clinics/:clinicId/jwks.json',
  '/.well-known/limb-ledger/jwks.json',
  '/livez',
  '/readyz',
]
const actor = (role: string) => ({ kind: 'clinic', role: role as ClinicRole }) as ClinicActor
const call = (token: string | null, { method, url }: Route) => {
  const api = service.api(token)
  const address = url.replaceAll(/:\w+/g, () => uuidv7())
  if (method === 'GET') return api.get(address)
  return method === 'PUT' ? api.put(address, {}, '"1"') : api.post(address, {})
}

describe('the policy denies by default', () => {
  it('an action that nobody named, to everyone', () => {
    for (const role of CLINIC_ROLES)
      for (const action of ['subjects.delete', 'toString', '__proto__', ''])
        expect(() => authorise(actor(role), action as Action)).toThrow(AppError)
  })

  it('every action to a role that nobody named', () => {
    for (const action of Object.keys(POLICY) as Action[])
      for (const role of ['reader', 'operator', 'admin', '', 'toString'])
        expect(mayDo(role as ClinicRole, action)).toBe(false)
  })

  it('to a machine whatever is a judgement, and to an assistant whatever is signed', () => {
    for (const action of ['flags.resolve', 'observations.create', 'sessions.withdraw', 'audit.read'] as const)
      for (const role of ['integration', 'assistant'] as const) expect(mayDo(role, action)).toBe(false)
    expect(
      actionsOf('auditor').filter(
        (action) => !/^(me|code-lists|criteria-sets|audit|disclosures|legal-holds)\./.test(action),
      ),
    ).toEqual([])
  })
})

describe('every route', () => {
  it('but the few that are open to everyone names an action of the policy', () => {
    const unnamed = routes.filter((route) => route.action === undefined && route.teamAction === undefined)
    expect(unnamed.map((route) => route.url)).toEqual(OPEN)
    const forTeams = routes.flatMap((route) => route.teamAction ?? [])
    expect(forTeams.sort()).toEqual([...TEAM_ACTIONS].sort())
    for (const { action } of routes) if (action !== undefined) expect(POLICY).toHaveProperty([action])
    expect(routes.length).toBeGreaterThan(20)
  })

  it('that names an action refuses a stranger with 401', async () => {
    for (const route of routes.filter(({ action, teamAction }) => action !== undefined || teamAction !== undefined))
      expect([route.url, (await call(null, route)).status]).toEqual([route.url, 401])
  })

  it('refuses the roles that its action leaves out with 403, and no other', { timeout: 120_000 }, async () => {
    for (const route of routes) {
      const { action } = route
      if (action === undefined) continue
      const answers = await Promise.all(
        CLINIC_ROLES.map(async (role) => [role, (await call(clinic.tokens[role], route)).status === 403] as const),
      )
      const expected = CLINIC_ROLES.map((role) => [role, !mayDo(role, action)] as const)
      expect([route.method, route.url, ...answers]).toEqual([route.method, route.url, ...expected])
    }
  })

  it('for teams refuses every role of a clinic', async () => {
    for (const route of routes.filter(({ teamAction }) => teamAction !== undefined))
      for (const role of CLINIC_ROLES)
        expect([role, route.url, (await call(clinic.tokens[role], route)).status]).toEqual([role, route.url, 403])
  })

  it('refuses a team token, but for those of teams and the one that says who it is', async () => {
    const team = await freshTeam(service)
    const open: string[] = []
    for (const route of routes.filter(({ teamAction }) => teamAction === undefined))
      if ((await call(team.token, route)).status !== 403) open.push(route.url)
    expect(open).toEqual([...OPEN, '/v1/me'])
  })
})

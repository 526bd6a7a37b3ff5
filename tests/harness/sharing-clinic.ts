/** A clinic with a tested subject, reports to sign and a team to show them to. Dates are counted from today. */
import { expect } from 'vitest'
import type { LooseDocument } from '../fixtures/example-session.ts'
import { freshClinic, type Answer, type Api, type FreshClinic, type TestService } from './clinic.ts'
import { testedSubject, type TestedSubject } from './tested-subject.ts'

export const PURPOSE = { Purpose: 'availability-planning' }
export const asTeam = (api: Api) => ({
  get: <T = LooseDocument>(url: string, headers: Record<string, string> = {}) =>
    api.get<T>(url, { headers: { ...PURPOSE, ...headers } }),
})

/** ISO date so many days from today, in the time zone of the test clinics. */
export const day = (days: number): string =>
  new Intl.DateTimeFormat('en-CA', { timeZone: 'Europe/Zurich' }).format(new Date(Date.now() + days * 86_400_000))

export const hopsOf = (crossoverCm: number) => [
  hop('single_hop_distance', 'left', 158), hop('single_hop_distance', 'right', 148),
  hop('triple_hop_distance', 'left', 512), hop('triple_hop_distance', 'right', 471),
  hop('triple_crossover_hop_distance', 'left', 486), hop('triple_crossover_hop_distance', 'right', crossoverCm),
  { key: 'run', test: 'agility_t_run_time', trials: [{ value: 10.62, unit: 's' }] },
] // prettier-ignore

const hop = (test: string, side: 'left' | 'right', cm: number) => ({
  key: `${test}-${side}`,
  test,
  side,
  trials: [{ value: cm, unit: 'cm' }],
})

const SIGNED_SET = 'kyritsis-2016'
export const NOTE = 'Crossover hop behind; the note stays here, Dr. Example-Note.'

export interface ClinicWorld {
  readonly clinic: FreshClinic
  readonly subject: TestedSubject
  readonly clinician: Api
  readonly owner: Api
  /** A visit with hops: one criterion of the set is not met, one not assessable. */
  readonly visit: (day: string, change?: (document: LooseDocument) => void) => LooseDocument
  readonly sign: (over?: Record<string, unknown>) => Promise<LooseDocument>
  readonly invite: (teamId: string) => Promise<void>
  readonly consent: (teamId: string, over?: Record<string, unknown>) => Promise<LooseDocument>
}

export async function clinicWorld(service: TestService, number: string): Promise<ClinicWorld> {
  const clinic = await freshClinic(service)
  const subject = await testedSubject(service, clinic, number)
  const clinician = service.api(clinic.tokens.clinician)
  const owner = service.api(clinic.tokens.owner)
  const created = (answer: Answer<LooseDocument>): LooseDocument => {
    expect(answer.status, answer.text).toBe(201)
    return answer.body
  }
  return {
    clinic,
    subject,
    clinician,
    owner,
    visit: (on, change = () => {}) =>
      subject.visit(on, (document) => {
        document.functionalResults = hopsOf(431)
        change(document)
      }),
    sign: async (over = {}) =>
      created(
        await clinician.post(`/v1/episodes/${subject.episodeId}/reports`, {
          criteriaSet: { key: SIGNED_SET },
          on: day(0),
          decision: 'continue_rehabilitation',
          note: NOTE,
          ...over,
        }),
      ),
    invite: async (teamId) => {
      const answer = await owner.post(`/v1/teams/${teamId}/invitations`, {})
      expect([200, 201]).toContain(answer.status)
    },
    consent: async (teamId, over = {}) =>
      created(
        await clinician.post(`/v1/subjects/${subject.subjectId}/consents`, {
          team: { id: teamId },
          level: 'status',
          teamReference: `CB-${number}`,
          displayName: 'No. 7',
          purposes: ['availability-planning'],
          from: day(-1),
          until: day(200),
          documentReference: 'folder 12',
          ...over,
        }),
      ),
  }
}

/** What an operator does before the first request: two clinics, their people, and a token for each of them. */
import type { EmbeddedMachine } from '../embedded/machine.ts'
import { addMember, createClinic, withOwner } from '../store/admin-store.ts'
import type { Scenario } from './scenario.ts'
import { SYSTEMS } from './scenario-clinic.ts'

export type PersonKey = Scenario['people'][number]['key']

export interface Person {
  readonly key: PersonKey
  readonly name: string
  readonly role: string
  readonly clinic: string
  readonly token: string
}

export async function foundClinics(machine: EmbeddedMachine, scenario: Scenario): Promise<readonly Person[]> {
  const { issuer } = machine
  return withOwner(machine.adminUrl, async (client) => {
    const people: Person[] = []
    for (const { key: clinicKey, name: clinic } of scenario.clinics) {
      const timeZone = 'Europe/Zurich'
      const clinicId = await createClinic(client, { name: clinic, timeZone, issuers: [issuer.issuer] })
      for (const { key, name, role, staffNumber } of scenario.people.filter((person) => person.clinic === clinicKey)) {
        const sub = `demo-${key}`
        await addMember(client, {
          clinicId,
          issuer: issuer.issuer,
          sub,
          role,
          displayName: name,
          licence: role === 'clinician' ? 'invented for the demo' : undefined,
          identifiers: staffNumber === null ? [] : [{ system: SYSTEMS.staff, value: staffNumber }],
        })
        people.push({ key, name, role, clinic, token: await issuer.mint({ sub, clinic: clinicId }) })
      }
    }
    return people
  })
}

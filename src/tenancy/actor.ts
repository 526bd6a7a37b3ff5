/** Who acts. Made by authentication alone; every use case takes one. */

export const CLINIC_ROLES = ['owner', 'clinician', 'assistant', 'integration', 'auditor'] as const
export type ClinicRole = (typeof CLINIC_ROLES)[number]

export interface ClinicActor {
  readonly kind: 'clinic'
  readonly clinicId: string
  readonly clinicName: string
  /** IANA zone; time of day of a test is judged in it. */
  readonly timeZone: string
  readonly principalId: string
  readonly displayName: string
  readonly role: ClinicRole
  /** Holds a licence on record: may sign a decision, resolve a flag. */
  readonly licensed: boolean
  /** The `client_id` or `azp` claim where the token carries one. */
  readonly client: string | null
}

export interface TeamActor {
  readonly kind: 'team'
  readonly teamId: string
  readonly teamName: string
  readonly principalId: string
  readonly displayName: string
  readonly client: string | null
}

export type Actor = ClinicActor | TeamActor

/**
 * Who may do what. Default deny: an action that is not in this table is done by nobody, a role that is not named may not.
 * Tenancy itself (whose rows) is not decided here but by withClinic and row-level security.
 */
import { AppError } from '../domain/errors.ts'
import type { ClinicActor, ClinicRole } from './actor.ts'

const staff = ['owner', 'clinician', 'assistant'] as const
const staffAndMachines = [...staff, 'integration'] as const
const everyone = [...staffAndMachines, 'auditor'] as const

export const POLICY = {
  'me.read': everyone,
  'code-lists.read': everyone,
  'criteria-sets.read': everyone,
  'criteria-sets.create': ['owner', 'clinician'],
  'criteria-sets.retire': ['owner', 'clinician'],
  'subjects.create': staffAndMachines,
  'subjects.read': staffAndMachines,
  'subjects.list': staffAndMachines,
  'subjects.edit': staffAndMachines,
  'episodes.create': staffAndMachines,
  'episodes.read': staffAndMachines,
  'episodes.list': staffAndMachines,
  'episodes.edit': ['owner', 'clinician', 'integration'],
  'observations.create': ['clinician'],
  'observations.list': staffAndMachines,
  'dynamometers.create': ['owner', 'clinician'],
  'dynamometers.read': staffAndMachines,
  'dynamometers.list': staffAndMachines,
  'dynamometers.edit': ['owner', 'clinician'],
  'calibration-checks.create': staff,
  'calibration-checks.list': staffAndMachines,
  'sessions.push': staffAndMachines,
  'sessions.check': staffAndMachines,
  'sessions.read': staffAndMachines,
  'sessions.list': staffAndMachines,
  'sessions.amend': ['owner', 'clinician', 'integration'],
  'sessions.withdraw': ['owner', 'clinician'],
  'recordings.read': staffAndMachines,
  'results.read': staffAndMachines,
  'series.list': staffAndMachines,
  'trends.read': staffAndMachines,
  'symmetry.read': staffAndMachines,
  'comparability.read': staffAndMachines,
  'comparability-rules.read': staffAndMachines,
  'comparability-rules.edit': ['owner', 'clinician'],
  'reference-setups.pin': staff,
  'reference-setups.list': staffAndMachines,
  'next-setup.read': staffAndMachines,
  'test-plans.create': staffAndMachines,
  'test-plans.list': staffAndMachines,
  'calculations.run': staffAndMachines,
  'preflight.run': staffAndMachines,
  'reanalysis.preview': staff,
  'readiness.read': staffAndMachines,
  'reports.sign': ['clinician'],
  'reports.withdraw': ['clinician'],
  'reports.read': staffAndMachines,
  'reports.list': staffAndMachines,
  'teams.invite': ['owner'],
  'teams.list': staff,
  'consents.create': staff,
  'consents.list': staff,
  'consents.revoke': staff,
  'flags.list': staffAndMachines,
  'flags.resolve': ['clinician'],
  'measurement-errors.create': ['owner', 'clinician'],
  'measurement-errors.list': staffAndMachines,
  'audit.read': ['owner', 'auditor'],
  'audit.export': ['owner', 'auditor'],
  'audit.seal': ['owner', 'auditor'],
  'audit.verify': ['owner', 'auditor'],
  'disclosures.read': ['owner', 'auditor'],
  'subjects.export': ['owner'],
  'subjects.erase': ['owner'],
  'legal-holds.place': ['owner'],
  'legal-holds.release': ['owner'],
  'legal-holds.list': ['owner', 'auditor'],
} as const satisfies Record<string, readonly ClinicRole[]>

export type Action = keyof typeof POLICY

export function mayDo(role: ClinicRole, action: Action): boolean {
  return Object.hasOwn(POLICY, action) && (POLICY[action] as readonly ClinicRole[]).includes(role)
}

export function authorise(actor: ClinicActor, action: Action): void {
  if (!mayDo(actor.role, action)) {
    throw new AppError('forbidden', { detail: `The role ${actor.role} may not do ${action}.` })
  }
}

/** What a licence is needed for beside the role: to resolve a flag, to sign a decision. */
export function requireLicence(actor: ClinicActor): void {
  if (!actor.licensed) throw new AppError('forbidden', { detail: 'A licence on record is needed for that.' })
}

/** What GET /v1/me answers. */
export function actionsOf(role: ClinicRole): Action[] {
  return (Object.keys(POLICY) as Action[]).filter((action) => mayDo(role, action))
}

/** What the reader of a team may do, and nothing else: each needs a purpose that a consent names. */
export const TEAM_ACTIONS = ['team.squad.read', 'team.reports.list', 'team.reports.read'] as const
export type TeamAction = (typeof TEAM_ACTIONS)[number]

/** What a refusal may be of; the last one, of an operation that was not run and so named no action. */
export type Attempt = Action | TeamAction | 'graphql.operation'

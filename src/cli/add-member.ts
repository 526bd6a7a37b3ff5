import { addMember } from '../store/admin-store.ts'
import { CLINIC_ROLES, type ClinicRole } from '../tenancy/actor.ts'
import { issuerOf, runAsOwner, UsageError } from './admin.ts'

const ROLES: readonly ClinicRole[] = CLINIC_ROLES.filter((role) => role !== 'integration')

const HELP = `Usage: limb-ledger add-member --clinic ID --sub TEXT --role WORD --display-name TEXT
                              [--licence TEXT] [--identifier SYSTEM=VALUE ...] [--issuer URL]

Lets a person into a clinic and prints the id of the principal.
  --sub TEXT                  the subject of the person's tokens
  --role WORD                 ${ROLES.join(', ')}
  --licence TEXT              licence on record: may sign a decision, resolve a flag
  --identifier SYSTEM=VALUE   staff number, as documents name the operator; may be given again`

export const run = (argv: readonly string[]): Promise<number> =>
  runAsOwner(
    argv,
    {
      name: 'add-member',
      help: HELP,
      options: ['clinic', 'sub', 'role', 'display-name', 'licence', 'identifier', 'issuer'],
    },
    async (client, options, config) => {
      const role = options.need('role')
      if (!ROLES.includes(role as ClinicRole)) throw new UsageError(`--role wants one of ${ROLES.join(', ')}.`)
      const principalId = await addMember(client, {
        clinicId: options.needUuid('clinic'),
        issuer: await issuerOf(options, config),
        sub: options.need('sub'),
        role: role as ClinicRole,
        displayName: options.need('display-name'),
        licence: options.maybe('licence'),
        identifiers: options.all('identifier').map(identifierOf),
      })
      return { principalId }
    },
  )

/** The value follows the last "=", since a system is mostly an address. */
function identifierOf(text: string): { system: string; value: string } {
  const at = text.lastIndexOf('=')
  if (at < 1 || at === text.length - 1) throw new UsageError(`--identifier wants SYSTEM=VALUE, not "${text}".`)
  return { system: text.slice(0, at), value: text.slice(at + 1) }
}

import { createClinic } from '../store/admin-store.ts'
import { issuerOf, runAsOwner, UsageError } from './admin.ts'

const HELP = `Usage: limb-ledger create-clinic --name TEXT --time-zone ZONE [--issuer URL ...]

Makes a clinic and prints its id.
  --name TEXT        the name that members see
  --time-zone ZONE   IANA name, e.g. Europe/Zurich: the time of day of a test is judged in it
  --issuer URL       whose tokens the clinic accepts, may be given again; without it the configured issuer,
                     or the embedded one where none is configured`

export const run = (argv: readonly string[]): Promise<number> =>
  runAsOwner(
    argv,
    { name: 'create-clinic', help: HELP, options: ['name', 'time-zone', 'issuer'] },
    async (client, options, config) => {
      const given = options.all('issuer')
      const clinicId = await createClinic(client, {
        name: options.need('name'),
        timeZone: knownZone(options.need('time-zone')),
        issuers: given.length > 0 ? given : [await issuerOf(options, config)],
      })
      return { clinicId }
    },
  )

function knownZone(zone: string): string {
  try {
    return new Intl.DateTimeFormat('en', { timeZone: zone }).resolvedOptions().timeZone
  } catch {
    throw new UsageError(`--time-zone wants an IANA name such as Europe/Zurich, not "${zone}".`)
  }
}

import { addMember } from '../store/admin-store.ts'
import { issuerOf, runAsOwner } from './admin.ts'

const HELP = `Usage: limb-ledger add-integration --clinic ID --sub TEXT --display-name TEXT [--issuer URL]

Lets a machine push sessions into a clinic and prints the id of the principal.
  --sub TEXT   the subject of the machine's tokens, mostly its client id`

export const run = (argv: readonly string[]): Promise<number> =>
  runAsOwner(
    argv,
    { name: 'add-integration', help: HELP, options: ['clinic', 'sub', 'display-name', 'issuer'] },
    async (client, options, config) => {
      const principalId = await addMember(client, {
        clinicId: options.needUuid('clinic'),
        issuer: await issuerOf(options, config),
        sub: options.need('sub'),
        role: 'integration',
        displayName: options.need('display-name'),
      })
      return { principalId }
    },
  )

import { removeMember } from '../store/admin-store.ts'
import { issuerOf, runAsOwner } from './admin.ts'

const HELP = `Usage: limb-ledger remove-member --clinic ID --sub TEXT [--issuer URL]

A person or machine is out at its next request. What it recorded stays, under its name.`

export const run = (argv: readonly string[]): Promise<number> =>
  runAsOwner(
    argv,
    { name: 'remove-member', help: HELP, options: ['clinic', 'sub', 'issuer'] },
    async (client, options, config) => {
      const sub = options.need('sub')
      await removeMember(client, { clinicId: options.needUuid('clinic'), issuer: await issuerOf(options, config), sub })
      return { removed: sub }
    },
  )

import { removeTeamReader } from '../store/admin-store.ts'
import { issuerOf, runAsOwner } from './admin.ts'

const HELP = `Usage: limb-ledger remove-team-reader --team ID --sub TEXT [--issuer URL]

A person reads for this team no more, from the next request on. What they have read before is in their hands.`

export const run = (argv: readonly string[]): Promise<number> =>
  runAsOwner(
    argv,
    { name: 'remove-team-reader', help: HELP, options: ['team', 'sub', 'issuer'] },
    async (client, options, config) => {
      const sub = options.need('sub')
      await removeTeamReader(client, { teamId: options.needUuid('team'), issuer: await issuerOf(options, config), sub })
      return { removed: sub }
    },
  )

import { addTeamReader } from '../store/admin-store.ts'
import { issuerOf, runAsOwner } from './admin.ts'

const HELP = `Usage: limb-ledger add-team-reader --team ID --sub TEXT --display-name TEXT [--issuer URL]

Lets a person read for a team and prints the id of the principal.`

export const run = (argv: readonly string[]): Promise<number> =>
  runAsOwner(
    argv,
    { name: 'add-team-reader', help: HELP, options: ['team', 'sub', 'display-name', 'issuer'] },
    async (client, options, config) => {
      const principalId = await addTeamReader(client, {
        teamId: options.needUuid('team'),
        issuer: await issuerOf(options, config),
        sub: options.need('sub'),
        displayName: options.need('display-name'),
      })
      return { principalId }
    },
  )

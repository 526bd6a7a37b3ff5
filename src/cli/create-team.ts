import { createTeam } from '../store/admin-store.ts'
import { runAsOwner } from './admin.ts'

const HELP = `Usage: limb-ledger create-team --name TEXT

Makes a sports team and prints its id. It sees nothing until a subject consents.`

export const run = (argv: readonly string[]): Promise<number> =>
  runAsOwner(argv, { name: 'create-team', help: HELP, options: ['name'] }, async (client, options) => ({
    teamId: await createTeam(client, { name: options.need('name') }),
  }))

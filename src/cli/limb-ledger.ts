/** The command line: one word, one file. A command gets the words after its name and answers the exit code. */

interface Command {
  run(argv: readonly string[]): Promise<number>
}

const COMMANDS: Readonly<Record<string, { readonly load: () => Promise<Command>; readonly summary: string }>> = {
  analyse: { load: () => import('./analyse.ts'), summary: 'measure a recording in a CSV file, without a database' },
  push: { load: () => import('./push.ts'), summary: 'push many visits, one for each line of a file' },
  'create-clinic': { load: () => import('./create-clinic.ts'), summary: 'make a clinic' },
  'add-member': { load: () => import('./add-member.ts'), summary: 'let a person into a clinic' },
  'add-integration': {
    load: () => import('./add-integration.ts'),
    summary: 'let a machine push sessions into a clinic',
  },
  'remove-member': { load: () => import('./remove-member.ts'), summary: 'take a person or machine out of a clinic' },
  'create-team': { load: () => import('./create-team.ts'), summary: 'make a sports team' },
  'add-team-reader': { load: () => import('./add-team-reader.ts'), summary: 'let a person read for a team' },
  'remove-team-reader': { load: () => import('./remove-team-reader.ts'), summary: 'take a reader out of a team' },
  'mint-token': { load: () => import('./mint-token.ts'), summary: 'print a token of the embedded issuer' },
  'serve-issuer': { load: () => import('./serve-issuer.ts'), summary: 'serve the public keys of the embedded issuer' },
  'make-keys': { load: () => import('./make-keys.ts'), summary: 'make the keys that a production service needs' },
  'open-epoch': {
    load: () => import('./open-epoch.ts'),
    summary: 'declare that the database was restored or moved: the audit log goes on in a new epoch',
  },
  'new-report-key': { load: () => import('./new-report-key.ts'), summary: 'make or rotate the keys that sign reports' },
  'verify-report': { load: () => import('./verify-report.ts'), summary: 'verify a signed report, offline' },
  reanalyse: { load: () => import('./reanalyse.ts'), summary: 'analyse stored recordings again, with a dry run' },
  'verify-audit': { load: () => import('./verify-audit.ts'), summary: 'verify an exported audit log, offline' },
}

const HELP = [
  'Usage: limb-ledger COMMAND [OPTIONS]',
  '',
  ...Object.entries(COMMANDS).map(([name, { summary }]) => `  ${name.padEnd(20)}${summary}`),
  '',
  'limb-ledger COMMAND --help tells the options of a command.',
].join('\n')

export async function run(argv: readonly string[]): Promise<number> {
  const [name, ...rest] = argv
  if (name === undefined || name === '--help' || name === '-h') {
    console.log(HELP)
    return name === undefined ? 2 : 0
  }
  const command = Object.hasOwn(COMMANDS, name) ? COMMANDS[name] : undefined
  if (command === undefined) {
    console.error(`limb-ledger: there is no command "${name}".\n\n${HELP}`)
    return 2
  }
  return (await command.load()).run(rest)
}

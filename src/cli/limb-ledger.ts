/** The command line: one word, one file. A command gets the words after its name and answers the exit code. */

interface Command {
  run(argv: readonly string[]): Promise<number>
}

const COMMANDS: Readonly<Record<string, { readonly load: () => Promise<Command>; readonly summary: string }>> = {
  analyse: { load: () => import('./analyse.ts'), summary: 'measure a recording in a CSV file, without a database' },
}

const HELP = [
  'Usage: limb-ledger COMMAND [OPTIONS]',
  '',
  ...Object.entries(COMMANDS).map(([name, { summary }]) => `  ${name.padEnd(16)}${summary}`),
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

if (import.meta.main) process.exitCode = await run(process.argv.slice(2))

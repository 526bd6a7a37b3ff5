import { readFile, rename, writeFile } from 'node:fs/promises'
import { makeReportKeysText } from '../application/reports/report-keys.ts'
import { runCommand } from './admin.ts'

const HELP = `Usage: limb-ledger new-report-key --file PATH

Puts a new secret first in the file of report keys, or makes the file. Reports are signed with it from the next start
on; those signed before stay verifiable as long as the older secrets stay in the file.`

export const run = (argv: readonly string[]): Promise<number> =>
  runCommand(argv, { name: 'new-report-key', help: HELP, options: ['file'] }, async (options) => {
    const path = options.need('file')
    const before = await readIfThere(path)
    // Whole or not at all: a reader never meets half a file, and a crash loses no secret.
    await writeFile(`${path}.draft`, makeReportKeysText(before), { mode: 0o600, flag: 'wx' })
    await rename(`${path}.draft`, path)
    return JSON.stringify({ file: path, made: before === null })
  })

async function readIfThere(path: string): Promise<string | null> {
  try {
    return await readFile(path, 'utf8')
  } catch (error) {
    if ((error as NodeJS.ErrnoException).code === 'ENOENT') return null
    throw error
  }
}

import { readFile, stat } from 'node:fs/promises'
import { analyseRecording } from '../compute/index.ts'
import { decodeRecording } from '../application/prepare-session/decode-recording.ts'
import { toRecording } from '../application/prepare-session/stored-recording.ts'
import { ANALYSE_HELP, readAnalyseOptions } from './analyse-options.ts'
import { analysisTables } from './analysis-tables.ts'

/** Ten minutes at 5 kHz fit. */
const MAX_BYTES = 128 * 1024 * 1024

/** `limb-ledger analyse`: 0 measured, 1 the file cannot be used, 2 the command line cannot be used. */
export async function run(argv: readonly string[]): Promise<number> {
  const asked = readAnalyseOptions(argv)
  if ('help' in asked) {
    console.log(ANALYSE_HELP)
    return 0
  }
  if ('faults' in asked) {
    for (const message of asked.faults) console.error(`limb-ledger analyse: ${message}`)
    console.error('limb-ledger analyse --help tells the options.')
    return 2
  }
  const { file, json, side, declared, protocol, notes } = asked.options

  const text = await readTextFile(file)
  if ('reason' in text) {
    console.error(`limb-ledger analyse: ${file}: ${text.reason}`)
    return 1
  }
  // The reader of pushed recordings: what is accepted here is accepted there, and analysed in the same precision.
  const { readingAtAnatomicalZeroDeg: zeroDeg, ...meaning } = declared
  const readingAtAnatomicalZero = { value: zeroDeg, unit: 'deg', canonicalValue: zeroDeg, canonicalUnit: 'deg' }
  const decoded = decodeRecording({ ...meaning, readingAtAnatomicalZero, csv: text.content }, [])
  if (!decoded.ok) {
    console.error(`limb-ledger analyse: ${file}: ${decoded.fault.message}`)
    return 1
  }
  const analysis = analyseRecording(toRecording(decoded.value.samples, declared), protocol)
  console.log(
    json
      ? JSON.stringify({ file, side, protocol, notes, analysis }, null, 2)
      : analysisTables({ file, side, protocol, notes, analysis }),
  )
  return 0
}

async function readTextFile(file: string): Promise<{ content: string } | { reason: string }> {
  try {
    const { size } = await stat(file)
    if (size > MAX_BYTES) return { reason: `The file is larger than ${MAX_BYTES / 1024 / 1024} MB.` }
    // A byte order mark is dropped by the decoder.
    return { content: new TextDecoder('utf-8', { fatal: true }).decode(await readFile(file)) }
  } catch (error) {
    if (error instanceof TypeError) return { reason: 'The file is not UTF-8 text.' }
    const code = error instanceof Error && 'code' in error ? error.code : null
    if (code === 'ENOENT') return { reason: 'There is no such file.' }
    if (code === 'EISDIR') return { reason: 'This is a folder.' }
    return { reason: error instanceof Error ? error.message : String(error) }
  }
}

import { createReadStream } from 'node:fs'
import { readFile } from 'node:fs/promises'
import { createInterface } from 'node:readline'
import { parseArgs } from 'node:util'
import { readKeys } from '../ledger/verify/signed-head.ts'
import type { VerificationReport } from '../ledger/verify/verify-export.ts'
import { verifyExport } from '../ledger/verify/verify-export.ts'
import { readWitness } from '../ledger/verify/witness-file.ts'

const HELP = `limb-ledger verify-audit EXPORT --keys JWKS [--witness WITNESS] [--json]

Verifies an exported audit log offline: no database, no service, no network.

  EXPORT              the export (NDJSON), as downloaded
  --keys JWKS         the service's public keys (JWK Set), kept from an earlier, trusted moment
  --witness WITNESS   the witness's file for this clinic; without it a log that was cut, or rewritten and
                      signed again, cannot be told from a true one
  --json              the report as JSON

Exit code: 0 intact, 1 broken, 2 the check could not be made, 3 intact with a loss that the log itself declares.
The format is written down in src/ledger/verify/EXPORT-FORMAT.md.`

const EXIT = { intact: 0, broken: 1, intact_with_declared_loss: 3 } as const
const NOT_CHECKED = 2

export async function run(argv: readonly string[]): Promise<number> {
  let asked
  try {
    asked = parseArgs({
      args: [...argv],
      allowPositionals: true,
      options: {
        keys: { type: 'string' },
        witness: { type: 'string' },
        json: { type: 'boolean', default: false },
        help: { type: 'boolean', short: 'h', default: false },
      },
    })
  } catch (error) {
    return refuse(error instanceof Error ? error.message : String(error))
  }
  const { values, positionals } = asked
  if (values.help) {
    console.log(HELP)
    return 0
  }
  const [file, ...others] = positionals
  if (file === undefined || others.length > 0) return refuse('Name one export file.')
  if (values.keys === undefined) return refuse('Name the public keys with --keys: an export cannot vouch for itself.')

  try {
    const keys = readKeys(await readFile(values.keys, 'utf8'))
    const witness = values.witness === undefined ? null : await readWitness(linesOf(values.witness), keys)
    const report = await verifyExport(linesOf(file), { keys, witness })
    console.log(values.json ? JSON.stringify(report, null, 2) : inWords(report))
    return EXIT[report.verdict]
  } catch (error) {
    return refuse(error instanceof Error ? error.message : String(error))
  }
}

function refuse(reason: string): number {
  console.error(`limb-ledger verify-audit: ${reason}\nlimb-ledger verify-audit --help tells the options.`)
  return NOT_CHECKED
}

function linesOf(path: string): AsyncIterable<string> {
  return createInterface({ input: createReadStream(path, 'utf8'), crlfDelay: Infinity })
}

function inWords(report: VerificationReport): string {
  const { verdict, clinicId, entries, heads, epochs, witnessedThrough, declaredLosses, firstBad } = report
  const lines = [
    `The log is ${verdict.replaceAll('_', ' ')}.`,
    `Clinic ${clinicId ?? 'unknown'}: ${entries} entries and ${heads} signed heads read.`,
    ...epochs.map(({ epoch, size, rootHash }) => `Epoch ${epoch}: ${size} entries, root ${rootHash}`),
  ]
  if (firstBad !== null) {
    const { epoch, sequence, notAfter, reason, detail, line } = firstBad
    const where = notAfter > sequence ? `between ${sequence} and ${notAfter}` : `${sequence}`
    lines.push(`First bad entry: epoch ${epoch}, sequence ${where} (line ${line} of the export).`)
    lines.push(`Reason: ${reason}: ${detail}.`)
  }
  for (const { declaredInEpoch, reason, kept, witnessed } of declaredLosses) {
    const range = `epoch ${kept.epoch} after sequence ${kept.size}, to epoch ${witnessed.epoch}, sequence ${witnessed.size}`
    lines.push(`Lost, as epoch ${declaredInEpoch} declares (${reason}): ${range}.`)
  }
  lines.push(
    witnessedThrough === null
      ? 'No witness was given: a log cut, or rewritten and signed again, would look the same.'
      : `Compared with the witness through epoch ${witnessedThrough.epoch}, sequence ${witnessedThrough.size}.`,
  )
  return lines.join('\n')
}

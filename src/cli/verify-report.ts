import { readFile } from 'node:fs/promises'
import { parseArgs } from 'node:util'
import { verifySignedReport, type ReportVerification } from '../application/reports/verify-signed-report.ts'

const HELP = `limb-ledger verify-report FILE --jwks FILE

Verifies a signed report offline: no database, no service, no network.

  FILE          the report as downloaded: the JWS itself (Accept: application/jose), or the JSON answer with
                "report" and "jws"
  --jwks FILE   the clinic's public keys (JWK Set), kept from
                /.well-known/limb-ledger/clinics/{clinicId}/jwks.json

Exit code: 0 authentic, 1 not authentic, 2 the check could not be made.
Authentic means: signed by one of these keys, and unaltered. Whether it was superseded or withdrawn since, only the
clinic can say.`

const NOT_CHECKED = 2

export async function run(argv: readonly string[]): Promise<number> {
  let asked
  try {
    asked = parseArgs({
      args: [...argv],
      allowPositionals: true,
      options: { jwks: { type: 'string' }, help: { type: 'boolean', short: 'h', default: false } },
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
  if (file === undefined || others.length > 0) return refuse('Name one report.')
  if (values.jwks === undefined) return refuse('Name the public keys with --jwks: a report cannot vouch for itself.')
  try {
    const found = await verifySignedReport(await readFile(file, 'utf8'), await readFile(values.jwks, 'utf8'))
    console.log(inWords(found))
    return found.authentic ? 0 : 1
  } catch (error) {
    return refuse(error instanceof Error ? error.message : String(error))
  }
}

function refuse(reason: string): number {
  console.error(`limb-ledger verify-report: ${reason}\nlimb-ledger verify-report --help tells the options.`)
  return NOT_CHECKED
}

function inWords(found: ReportVerification): string {
  if (!found.authentic) return `not authentic: ${found.reason}`
  return `authentic; may be superseded or withdrawn since\n${JSON.stringify(found.report, null, 2)}`
}

import { createHash } from 'node:crypto'
import { createReadStream } from 'node:fs'
import { readFile } from 'node:fs/promises'
import { setTimeout as sleep } from 'node:timers/promises'
import { runCommand, UsageError } from './admin.ts'
import { linesOf } from './lines-of.ts'

const HELP = `Usage: limb-ledger push --file FILE --token-file FILE [--url http://127.0.0.1:8080]

Pushes many visits, one after the other: each line of FILE is a session document, as POST /v1/sessions takes it.
  --token-file FILE   holds an access token and nothing else

Prints what became of each line, in order, and the counts at the end. accepted: stored now. duplicate: the same content was
there already, so the same file may be pushed again. rejected: nothing of it is stored, and why; the lines after it go on.
Where the service is busy, the line is sent again after the wait that was asked for. Exit code 1 where a line was rejected,
or where the rest was not sent because the token is refused or the service does not answer.`

/** What the service takes of one session. */
const MOST_BYTES = 16 * 1024 * 1024
const TRIES = 10

type Outcome =
  | { readonly outcome: 'accepted' | 'duplicate'; readonly sessionId: string; readonly version: number; readonly holds: readonly string[] } // prettier-ignore
  | { readonly outcome: 'rejected'; readonly code: string; readonly detail: string; readonly errors?: unknown }

interface Service {
  readonly url: string
  readonly token: string
}

export const run = (argv: readonly string[]): Promise<number> => {
  const counts = { accepted: 0, duplicate: 0, rejected: 0 }
  const command = { name: 'push', help: HELP, options: ['file', 'token-file', 'url'] }
  return runCommand(argv, command, async (options) => {
    const service = {
      url: urlOf(options.maybe('url')),
      token: (await readFile(options.need('token-file'), 'utf8')).trim(),
    }
    let line = 0
    for await (const bytes of linesOf(createReadStream(options.need('file')), MOST_BYTES)) {
      line += 1
      const outcome = bytes === null ? TOO_LONG : await pushLine(service, bytes, line)
      counts[outcome.outcome] += 1
      console.log(JSON.stringify({ line, ...outcome }))
    }
    return JSON.stringify({ lines: line, ...counts })
  }).then((code) => (code === 0 && counts.rejected > 0 ? 1 : code))
}

const TOO_LONG: Outcome = {
  outcome: 'rejected',
  code: 'too_large',
  detail: `The line has more than ${MOST_BYTES} bytes.`,
}

function urlOf(given = 'http://127.0.0.1:8080'): string {
  if (!/^https?:$/.test(URL.parse(given)?.protocol ?? '')) throw new UsageError('--url wants an address such as https://strength.clinic.example.') // prettier-ignore
  return given.replace(/\/+$/, '')
}

async function pushLine(service: Service, bytes: Uint8Array, line: number): Promise<Outcome> {
  const response = await send(service, bytes).catch((cause: unknown) => {
    throw new Error(`the service did not answer line ${line}. What comes after it was not sent.`, { cause })
  })
  // Of a proxy in between there may come no document at all.
  const body = (await response.json().catch(() => NO_DOCUMENT)) as Answer & Problem
  if (response.status === 401 || response.status === 403) {
    throw new Error(`${body.detail} Nothing of line ${line} and of what comes after it is stored.`)
  }
  if (!response.ok) {
    const { code, detail, errors } = body
    return { outcome: 'rejected', code, detail, ...(errors === undefined ? {} : { errors }) }
  }
  const isNew = response.status === 201 && response.headers.get('idempotency-replayed') === null
  const holds = [...new Set(body.flags.filter(({ level }) => level === 'hold').map(({ code }) => code))]
  return { outcome: isNew ? 'accepted' : 'duplicate', sessionId: body.session.id, version: body.session.version, holds }
}

const NO_DOCUMENT: Problem = { code: 'no_answer', detail: 'The answer is not one of this service.' }

interface Answer {
  readonly session: { readonly id: string; readonly version: number }
  readonly flags: readonly { readonly code: string; readonly level: string }[]
}

interface Problem {
  readonly code: string
  readonly detail: string
  readonly errors?: unknown
}

/** The key is made of the line: sent again, now or on another day, it has one effect. */
async function send({ url, token }: Service, bytes: Uint8Array): Promise<Response> {
  const key = createHash('sha256').update(bytes).digest('hex')
  const headers = { Authorization: `Bearer ${token}`, 'Content-Type': 'application/json', 'Idempotency-Key': key }
  for (let tries = 1; ; tries += 1) {
    const last = tries === TRIES
    const sent = fetch(`${url}/v1/sessions`, { method: 'POST', headers, body: bytes as Uint8Array<ArrayBuffer> })
    const response = await (last ? sent : sent.catch(() => null))
    if (response !== null && (last || !COME_AGAIN.has(response.status))) return response
    await response?.arrayBuffer()
    await sleep(1000 * Number(response?.headers.get('retry-after') ?? 1))
  }
}

/** The service has no room, or a proxy does not reach it. */
const COME_AGAIN: ReadonlySet<number> = new Set([429, 502, 503, 504])

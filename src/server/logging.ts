/** Logs name routes and ids, never people: requests and errors go through allow-lists, and what slips by is redacted. */
import { pino, type LoggerOptions } from 'pino'

/** Pinned by a test. Belt and braces: no serializer lets these through in the first place. */
export const REDACTED = [
  'authorization',
  'cookie',
  'token',
  'password',
  'name',
  'birthDate',
  'identifier',
  'notes',
  'note',
  'body',
  'document',
] as const

export function logOptions(
  level: string,
  stream?: NodeJS.WritableStream,
): LoggerOptions & { stream?: NodeJS.WritableStream } {
  // prettier-ignore
  return {
    level,
    base: null,
    timestamp: pino.stdTimeFunctions.isoTime,
    redact: { paths: REDACTED.flatMap((key) => [key, `*.${key}`, `*.*.${key}`]), censor: '[redacted]' },
    serializers: {
      req: (request: { method?: string; id?: string }) => ({ method: request.method, id: request.id }),
      res: (reply: { statusCode?: number }) => ({ status: reply.statusCode }),
      err: (error: Error & { code?: string }) => ({ type: error.name, code: error.code, stack: stackOnly(error) }),
    },
    ...(stream === undefined ? {} : { stream }),
  }
}

/** The frames alone: a message may quote a value, over many lines, and some are made to look like frames. */
function stackOnly(error: Error): string {
  const stack = error.stack ?? ''
  const said = stack.indexOf(error.message)
  const frames = stack
    .slice(said < 0 ? 0 : said + error.message.length)
    .split('\n')
    .filter((line) => /^ {4}at /.test(line))
  return frames.slice(0, 12).join('\n')
}

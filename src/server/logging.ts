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

export function logOptions(level: string, stream?: NodeJS.WritableStream): LoggerOptions & { stream?: NodeJS.WritableStream } { // prettier-ignore
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

/** The stack without its first line: messages may quote a value. */
function stackOnly(error: Error): string {
  return (error.stack ?? '').split('\n').slice(1, 12).join('\n')
}

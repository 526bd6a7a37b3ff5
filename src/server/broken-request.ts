/** Bytes that never became a request, or came too slowly: answered on the bare socket with a problem document. */
import { STATUS_CODES } from 'node:http'
import type { Socket } from 'node:net'
import type { Duplex } from 'node:stream'
import { v7 as uuidv7 } from 'uuid'
import { AppError, type ErrorCode } from '../domain/errors.ts'
import { problemOf } from './problem.ts'

const CODES: Readonly<Record<string, ErrorCode>> = {
  ERR_HTTP_REQUEST_TIMEOUT: 'request_too_slow',
  HPE_HEADER_OVERFLOW: 'headers_too_large',
}

export function answerBrokenRequest(error: Error & { code?: string }, socket: Socket): void {
  // An answer that has begun on this connection must not get a second one into its middle.
  const answering = (socket as Socket & { _httpMessage?: { headersSent: boolean } | null })._httpMessage?.headersSent
  if (error.code === 'ECONNRESET' || !socket.writable || answering === true) {
    socket.destroy()
    return
  }
  answerOnSocket(new AppError(CODES[error.code ?? ''] ?? 'malformed_request'), socket)
}

/** Where there is no reply to send it with. */
export function answerOnSocket(refusal: AppError, socket: Duplex): void {
  const body = JSON.stringify(problemOf(refusal, uuidv7()))
  socket.end(
    [
      `HTTP/1.1 ${refusal.status} ${STATUS_CODES[refusal.status] ?? ''}`,
      'Content-Type: application/problem+json',
      `Content-Length: ${Buffer.byteLength(body)}`,
      'Cache-Control: no-store',
      ...(refusal.retryAfterSeconds === undefined ? [] : [`Retry-After: ${refusal.retryAfterSeconds}`]),
      'Connection: close',
      '',
      body,
    ].join('\r\n'),
    () => socket.destroy(),
  )
}

import type { FieldFault } from '../../domain/errors.ts'
import { jsonPointer } from '../../domain/json-pointer.ts'
import type { JsonPath } from '../../domain/json-pointer.ts'
import type { ChannelName } from '../../domain/session-document.ts'

/** One channel as it was sent: its numbers, the field that holds them, and how to name the place of one of them. */
export interface SentChannel {
  readonly name: ChannelName
  readonly unit: string
  readonly values: ArrayLike<number>
  readonly field: JsonPath
  /** `where` is for a field that holds all samples in one text. */
  readonly locate: (index: number) => { readonly path: JsonPath; readonly where: string }
}

export type Decoded<T> = { readonly ok: true; readonly value: T } | Refused

export interface Refused {
  readonly ok: false
  readonly fault: FieldFault
}

export function refused(path: JsonPath, code: string, message: string): Refused {
  return { ok: false, fault: { pointer: jsonPointer(path), code, message } }
}

export function unreadable(path: JsonPath, message: string): Refused {
  return refused(path, 'recording_not_readable', message)
}

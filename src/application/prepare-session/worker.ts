/** The worker thread's side of the pool: one task in, one value out. Started by pool.ts alone. */
import { move, transferableSymbol, valueSymbol } from 'piscina'
import type { Analysis, Protocol } from '../../compute/index.ts'
import { prepareSession } from './prepare-session.ts'
import type { Preparation, PreparationOptions } from './prepared-session.ts'
import { printRecording, type PrintTask } from './print-recording.ts'
import { reanalyse } from './reanalyse.ts'
import type { RecordingHeader } from './stored-recording.ts'

export interface ReanalysisTask {
  readonly bytes: Uint8Array
  readonly header: RecordingHeader
  readonly sha256: string
  readonly protocol: Protocol
}

export function prepare(task: { readonly bytes: Uint8Array; readonly options: PreparationOptions }): unknown {
  const preparation: Preparation = prepareSession(task.bytes, task.options)
  if (preparation.outcome === 'recordings_wanted') {
    return move({ [transferableSymbol]: [task.bytes.buffer as ArrayBuffer], [valueSymbol]: preparation })
  }
  if (preparation.outcome === 'refused') return preparation
  // Hands the compressed samples over instead of copying them
  const buffers = preparation.session.recordings.map(({ bytes }) => bytes.buffer as ArrayBuffer)
  return move({ [transferableSymbol]: buffers, [valueSymbol]: preparation })
}

export function analyseAgain({ bytes, header, protocol, sha256 }: ReanalysisTask): Analysis {
  return reanalyse(bytes, header, protocol, sha256)
}

export function print(task: PrintTask): unknown {
  const text = printRecording(task)
  return move({ [transferableSymbol]: [text.buffer], [valueSymbol]: text })
}

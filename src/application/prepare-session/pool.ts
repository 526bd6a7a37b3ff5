/**
 * Keeps the work of a push off the event loop: a bounded queue in front of worker threads. A full queue is refused at once
 * (`busy`), so that the reads of others never wait behind it; a task over its time takes its thread with it.
 */
import { fileURLToPath } from 'node:url'
import { Piscina } from 'piscina'
import type { Analysis } from '../../compute/index.ts'
import { AppError } from '../../domain/errors.ts'
import type { Preparation, PreparationOptions } from './prepared-session.ts'
import type { PrintTask } from './print-recording.ts'
import type { ReanalysisTask } from './worker.ts'

export interface PreparationPoolOptions {
  readonly threads: number
  /** Tasks waiting beyond those being worked on. */
  readonly maxQueue: number
  readonly timeLimitMs: number
}

export interface PreparationPool {
  /** `bytes` is handed over where it owns its buffer, and must not be used afterwards. */
  readonly prepare: (bytes: Uint8Array, options?: PreparationOptions, signal?: AbortSignal) => Promise<Preparation>
  readonly reanalyse: (task: ReanalysisTask, signal?: AbortSignal) => Promise<Analysis>
  /** A stored recording as UTF-8 text. */
  readonly print: (task: PrintTask, signal?: AbortSignal) => Promise<Uint8Array>
  /** Starts the threads' modules before the first request needs them. */
  readonly warmUp: () => Promise<void>
  /** Finishes what is running and waiting, then ends the threads. */
  readonly close: () => Promise<void>
  /** Tasks taken that no thread works on yet. */
  readonly waiting: () => number
}

const RETRY_AFTER_SECONDS = 1

export function createPreparationPool({ threads, maxQueue, timeLimitMs }: PreparationPoolOptions): PreparationPool {
  const piscina = new Piscina({
    filename: fileURLToPath(new URL('worker.ts', import.meta.url)),
    minThreads: threads,
    maxThreads: threads,
    // One document of 16 MB must not be able to take the whole process down
    resourceLimits: { maxOldGenerationSizeMb: 768 },
    closeTimeout: timeLimitMs,
  })
  let closing = false
  // Counted here: piscina's own maxQueue let more tasks wait than it says when tried (5.3.2, tasks with an abort signal)
  let inFlight = 0

  const run = async (
    name: 'prepare' | 'analyseAgain' | 'print',
    task: object,
    transfer: ArrayBuffer[],
    signal?: AbortSignal,
  ) => {
    if (closing) throw busy('the pool is closing')
    if (inFlight >= threads + maxQueue) throw busy('the queue is full')
    const timeLimit = AbortSignal.timeout(timeLimitMs)
    const stop = signal === undefined ? timeLimit : AbortSignal.any([signal, timeLimit])
    inFlight++
    try {
      return (await piscina.run(task, { name, transferList: transfer, signal: stop })) as unknown
    } catch (error) {
      if (timeLimit.aborted) throw busy(`no answer within ${timeLimitMs} ms`, error)
      if (signal?.aborted) throw error
      throw new AppError('internal', { internal: 'a task failed in its worker', cause: error })
    } finally {
      inFlight--
    }
  }

  return {
    prepare: async (bytes, options = {}, signal) => {
      const own = withOwnBuffer(bytes)
      return (await run('prepare', { bytes: own, options }, [own.buffer], signal)) as Preparation
    },
    reanalyse: async (task, signal) => (await run('analyseAgain', task, [], signal)) as Analysis,
    print: async (task, signal) => (await run('print', task, [], signal)) as Uint8Array,
    warmUp: async () => {
      await Promise.all(Array.from({ length: threads }, () => run('prepare', { bytes: EMPTY, options: {} }, [])))
    },
    close: async () => {
      closing = true
      await piscina.close()
    },
    waiting: () => Math.max(0, inFlight - threads),
  }
}

const EMPTY = new TextEncoder().encode('{}')

function busy(internal: string, cause?: unknown): AppError {
  const detail = 'Too many sessions are being worked on. Nothing was stored; send it again.'
  return new AppError('busy', { detail, internal, cause, retryAfterSeconds: RETRY_AFTER_SECONDS })
}

/** A small Buffer shares its memory with others and cannot be handed over: it is copied. */
function withOwnBuffer(bytes: Uint8Array): Uint8Array<ArrayBuffer> {
  const { buffer } = bytes
  return buffer instanceof ArrayBuffer && bytes.byteLength === buffer.byteLength
    ? new Uint8Array(buffer)
    : Uint8Array.from(bytes)
}

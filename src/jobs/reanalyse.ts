/**
 * Brings a clinic's analyses to the release and the choices in force, one set a transaction. Resumable by nature: a set that was
 * done is not stale any more, so a job that was stopped anywhere goes on where it stopped.
 */
import { setTimeout } from 'node:timers/promises'
import {
  reanalyseSet,
  targetOf,
  type Reanalysis,
  type ReanalysedDirection,
} from '../application/reanalysis/reanalyse-set.ts'
import { AppError } from '../domain/errors.ts'
import { loadStaleSets, type StaleSet } from '../store/reanalysis-store.ts'
import { withClinic } from '../tenancy/with-clinic.ts'

export interface ReanalyseOptions {
  readonly subjectId: string | null
  /** Sets at most; null: all. */
  readonly limit: number | null
  /** Sets worked on at once: as many as the pool has threads. */
  readonly atOnce: number
  readonly say: (line: string) => void
}

export interface ReanalyseReport {
  readonly sets: number
  readonly moved: number
  readonly unchanged: number
  /** Amended, withdrawn or analysed by someone else meanwhile: nothing was done. */
  readonly overtaken: number
  readonly failed: number
}

export async function reanalyse(job: Reanalysis, options: ReanalyseOptions): Promise<ReanalyseReport> {
  const report = { sets: 0, moved: 0, unchanged: 0, overtaken: 0, failed: 0 }
  let after: string | null = null
  for (;;) {
    const take = Math.min(options.atOnce, (options.limit ?? Infinity) - report.sets)
    const batch: readonly StaleSet[] =
      take <= 0 ? [] : await nextSets(job, { subjectId: options.subjectId, after, take })
    if (batch.length === 0) return report
    const outcomes = await Promise.all(batch.map((stale) => one(job, stale, options.say)))
    for (const outcome of outcomes) {
      report.sets++
      report[outcome]++
    }
    after = batch.at(-1)?.setId ?? null
  }
}

function nextSets(
  job: Reanalysis,
  filter: { subjectId: string | null; after: string | null; take: number },
): Promise<StaleSet[]> {
  return patiently(() => withClinic(job.db, job, (tx) => loadStaleSets(tx, targetOf(job.parameters), filter)))
}

type Outcome = 'moved' | 'unchanged' | 'overtaken' | 'failed'

async function one(job: Reanalysis, stale: StaleSet, say: (line: string) => void): Promise<Outcome> {
  try {
    const done = await patiently(() => reanalyseSet(job, stale))
    if (done.outcome === 'overtaken') return 'overtaken'
    const lines = done.directions.flatMap(linesOf)
    lines.forEach(say)
    return lines.length > 0 ? 'moved' : 'unchanged'
  } catch (error) {
    // One recording that cannot be read must not stop those of everybody else
    say(`set ${stale.setId} of session ${stale.sessionId}: ${error instanceof Error ? error.message : String(error)}`)
    return 'failed'
  }
}

const TRIES = 6

/** Nobody waits for a job: where the database or the threads are busy it comes back. What it repeats is one transaction or none. */
async function patiently<T>(work: () => Promise<T>): Promise<T> {
  for (let attempt = 1; ; attempt++) {
    try {
      return await work()
    } catch (error) {
      const wait = error instanceof AppError ? error.retryAfterSeconds : undefined
      if (wait === undefined || attempt === TRIES) throw error
      await setTimeout(wait * 1000)
    }
  }
}

/** old -> new, value by value. */
function linesOf({ series, side, startedAt, moved }: ReanalysedDirection): string[] {
  return moved.map(({ measure, statistic, angleDeg, unit, before, after }) => {
    const name = angleDeg === null ? measure : `${measure} at ${angleDeg} deg`
    return `${startedAt.slice(0, 10)} ${side} ${series} ${name} ${statistic}: ${before ?? 'none'} -> ${after ?? 'none'} ${unit}`
  })
}

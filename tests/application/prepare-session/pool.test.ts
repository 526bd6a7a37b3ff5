import { afterEach, describe, expect, it } from 'vitest'
import { createPreparationPool } from '../../../src/application/prepare-session/pool.ts'
import type { PreparationPool, PreparationPoolOptions } from '../../../src/application/prepare-session/pool.ts'
import { prepareSession } from '../../../src/application/prepare-session/prepare-session.ts'
import { AppError } from '../../../src/domain/errors.ts'
import { exampleSession, shortSession, toBytes } from '../../fixtures/example-session.ts'

const pools: PreparationPool[] = []

function poolOf(options: Partial<PreparationPoolOptions> = {}): PreparationPool {
  const pool = createPreparationPool({ threads: 1, maxQueue: 4, timeLimitMs: 20_000, ...options })
  pools.push(pool)
  return pool
}

afterEach(async () => {
  await Promise.all(pools.splice(0).map((pool) => pool.close()))
}, 60_000)

const failure = (error: unknown): string => (error instanceof AppError ? error.code : String(error))

// Threads start slowly on a busy machine: the limit is for a hang, not for speed
describe('the preparation pool', { timeout: 60_000 }, () => {
  it('gives what the same work gives in this thread', async () => {
    const bytes = toBytes(exampleSession())
    const here = prepareSession(Uint8Array.from(bytes))
    expect(await poolOf().prepare(bytes)).toEqual(here)
  })

  it('gives faults back as values', async () => {
    const answer = await poolOf().prepare(new TextEncoder().encode('{"bodyMass": 1e999}'))
    expect(answer).toMatchObject({ outcome: 'refused', faults: [{ code: 'out_of_range', pointer: '#/bodyMass' }] })
  })

  it('leaves the neighbours of a small buffer alone', async () => {
    const shared = Buffer.from('{"a": 1} and more')
    const answer = await poolOf().prepare(shared.subarray(0, 8))
    expect(answer.outcome).toBe('refused')
    expect(shared.toString()).toBe('{"a": 1} and more')
  })

  it('refuses at once when thread and queue are full, and finishes what it took', async () => {
    const pool = poolOf({ maxQueue: 1 })
    await pool.warmUp()
    const bytes = toBytes(exampleSession())
    const answers = await Promise.all(
      Array.from({ length: 5 }, () => Uint8Array.from(bytes)).map((body) =>
        pool.prepare(body).then(
          ({ outcome }) => outcome as string,
          (error: unknown) => {
            expect(error).toMatchObject({ status: 503, retryAfterSeconds: 1 })
            return failure(error)
          },
        ),
      ),
    )
    expect(answers.filter((answer) => answer === 'prepared')).toHaveLength(2)
    expect(answers.filter((answer) => answer === 'busy')).toHaveLength(3)
    expect((await pool.prepare(toBytes(shortSession()))).outcome).toBe('prepared')
  })

  it('stops a task whose caller went away, and stays usable', async () => {
    const pool = poolOf()
    await pool.warmUp()
    const caller = new AbortController()
    const gone = pool.prepare(toBytes(exampleSession()), {}, caller.signal)
    setTimeout(() => caller.abort(), 5)
    await expect(gone).rejects.toThrow()
    expect((await pool.prepare(toBytes(shortSession()))).outcome).toBe('prepared')
  })

  it('stops a task at its time limit and calls that busy', async () => {
    await expect(poolOf({ timeLimitMs: 1 }).prepare(toBytes(exampleSession()))).rejects.toMatchObject({ code: 'busy' })
  })

  it('analyses a stored recording again, and calls corrupt bytes an internal error', async () => {
    const pool = poolOf()
    const preparation = await pool.prepare(toBytes(exampleSession()))
    if (preparation.outcome !== 'prepared') expect.fail(preparation.outcome)
    const [set] = preparation.session.sets
    const [recording] = preparation.session.recordings
    if (set?.origin !== 'computed' || recording === undefined) expect.fail('the first set has a recording')
    const { bytes, header, sha256 } = recording
    const task = { bytes, header, sha256, protocol: set.protocol }
    expect(await pool.reanalyse(task)).toEqual(set.analysis)
    await expect(pool.reanalyse({ ...task, bytes: bytes.slice(0, 100) })).rejects.toMatchObject({ code: 'internal' })
    await expect(pool.reanalyse({ ...task, sha256: '00'.repeat(32) })).rejects.toMatchObject({ code: 'internal' })
  })

  it('finishes what is running when it is closed, and takes nothing new', async () => {
    const pool = poolOf()
    const running = pool.prepare(toBytes(exampleSession()))
    const closed = pool.close()
    await expect(pool.prepare(toBytes(shortSession()))).rejects.toMatchObject({ code: 'busy' })
    expect((await running).outcome).toBe('prepared')
    await closed
  })
})

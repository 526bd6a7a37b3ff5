import { describe, expect, it } from 'vitest'
import { AppError } from '../../../src/domain/errors.ts'
import { announced } from '../../../src/faces/graphql/announced.ts'
import type { Announcement, Follower } from '../../../src/tenancy/announcements.ts'

const of = (id: string, more: Partial<Announcement> = {}): Announcement => ({ clinicId: 'c', kind: 'session_stored', subjectId: 's', id, ...more }) // prettier-ignore

async function followed(subjectId?: string) {
  const followers = new Set<Follower>()
  const announcements = {
    follow: async (follower: Follower) => {
      followers.add(follower)
      return () => void followers.delete(follower)
    },
    close: async () => undefined,
  }
  const told = await announced(announcements, { clinicId: 'c', kind: 'session_stored', subjectId })
  const [follower] = followers
  if (follower === undefined) throw new Error('nobody follows')
  return { told, follower, following: () => followers.size }
}

describe('what is announced', () => {
  it('is told one after the other, of the kind and subject that were asked for', async () => {
    const { told, follower } = await followed('s')
    for (const one of [of('1'), of('2', { kind: 'report_signed' }), of('3', { subjectId: 'other' }), of('4')]) follower.hear(one) // prettier-ignore
    expect([(await told.next()).value.id, (await told.next()).value.id]).toEqual(['1', '4'])
    const next = told.next()
    follower.hear(of('5'))
    expect((await next).value.id).toBe('5')
  })

  it('is told of any subject where none was named', async () => {
    const { told, follower } = await followed()
    follower.hear(of('1', { subjectId: 'other' }))
    expect((await told.next()).value.id).toBe('1')
  })

  it('waits for a slow client up to a thousand; one more, and nothing is told but that something was missed', async () => {
    const { told, follower, following } = await followed()
    for (let n = 0; n < 1_000; n++) follower.hear(of(String(n)))
    expect((await told.next()).value.id).toBe('0')
    for (let n = 1_000; n < 1_002; n++) follower.hear(of(String(n)))
    await expect(told.next()).rejects.toMatchObject({ code: 'busy', detail: 'More was announced than this connection took: read what you missed and subscribe again.' }) // prettier-ignore
    expect(following()).toBe(0)
    follower.hear(of('late'))
    await expect(told.next()).rejects.toBeInstanceOf(AppError)
  })

  it('ends with the error by which the line was lost, though somebody waits', async () => {
    const { told, follower } = await followed()
    const next = told.next()
    follower.lost(new AppError('database_unavailable'))
    await expect(next).rejects.toMatchObject({ code: 'database_unavailable' })
  })

  it('ends without one for whoever leaves, though they wait', async () => {
    const { told, following } = await followed()
    const next = told.next()
    await told.return?.()
    expect([await next, await told.next(), following()]).toEqual([{ done: true }, { done: true }, 0])
  })
})

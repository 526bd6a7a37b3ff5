import { describe, expect, it } from 'vitest'
import { Turns } from '../../../src/faces/graphql/turns.ts'

/** Work that ends when it is told to. */
function work(turns: Turns, names: readonly string[]) {
  const begun: string[] = []
  const ends = new Map<string, (failed?: boolean) => void>()
  const done = names.map((name) =>
    turns.take(() => {
      begun.push(name)
      return new Promise<string>((resolve, reject) => ends.set(name, (failed) => (failed ? reject(new Error(name)) : resolve(name)))) // prettier-ignore
    }),
  )
  const end = async (name: string, failed = false) => {
    ends.get(name)?.(failed)
    await Promise.allSettled([done[names.indexOf(name)]])
  }
  return { begun, done, end }
}

describe('turns', () => {
  it('are taken so many at once, the others in the order in which they came', async () => {
    const turns = new Turns(2)
    const { begun, done, end } = work(turns, ['a', 'b', 'c', 'd'])
    expect([begun, turns.waiting]).toEqual([['a', 'b'], 2])
    await end('b')
    expect([begun, turns.waiting]).toEqual([['a', 'b', 'c'], 1])
    await end('a')
    await end('c')
    await end('d')
    expect([begun, turns.waiting, await Promise.all(done)]).toEqual([['a', 'b', 'c', 'd'], 0, ['a', 'b', 'c', 'd']])
  })

  it('are handed on by work that fails, and none is lost when nobody waited', async () => {
    const turns = new Turns(1)
    const { begun, done, end } = work(turns, ['a', 'b'])
    await end('a', true)
    await expect(done[0]).rejects.toThrow('a')
    expect(begun).toEqual(['a', 'b'])
    await end('b', true)
    await expect(done[1]).rejects.toThrow('b')
    const later = work(turns, ['c', 'd'])
    expect([later.begun, turns.waiting]).toEqual([['c'], 1])
    await later.end('c')
    await later.end('d')
    expect(later.begun).toEqual(['c', 'd'])
  })
})

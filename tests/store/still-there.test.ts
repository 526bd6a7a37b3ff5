import { expect, it } from 'vitest'
import { stillThere } from '../../src/store/still-there.ts'

it('a row whose person was erased while it was read is gone, and the others are not', () => {
  const rows = [
    { id: 1, episode: { subjectId: 'a' } },
    { id: 2, episode: null },
    { id: 3, episode: { subjectId: 'c' } },
  ]
  expect(stillThere(rows, 'episode').map(({ id }) => id)).toEqual([1, 3])
})

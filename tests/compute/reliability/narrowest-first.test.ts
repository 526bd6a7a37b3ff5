import { describe, expect, it } from 'vitest'
import { narrowestFirst } from '../../../src/compute/index.ts'

const error = (operatorId: string | null, dynamometerId: string | null, name: string) => ({ operatorId, dynamometerId, name }) // prettier-ignore
const ERRORS = [
  error(null, null, 'newest of all'),
  error('a', null, 'of a'),
  error(null, 'x', 'on x'),
  error('a', 'x', 'of a on x'),
  error('b', 'x', 'of b on x'),
  error(null, null, 'older of all'),
]
const named = (operatorId: string | null, dynamometerId: string | null) =>
  narrowestFirst(ERRORS, { operatorId, dynamometerId }).map(({ name }) => name)

describe('the errors of a clinic that speak of a test', () => {
  it('come narrowest first: of operator and machine, of the operator, of the machine, of all, newest first', () => {
    expect(named('a', 'x')).toEqual(['of a on x', 'of a', 'on x', 'newest of all', 'older of all'])
    expect(named('b', 'y')).toEqual(['newest of all', 'older of all'])
    expect(named('b', 'x')).toEqual(['of b on x', 'on x', 'newest of all', 'older of all'])
  })

  it('are those of everybody where nobody knows who tested on what', () => {
    expect(named(null, null)).toEqual(['newest of all', 'older of all'])
    expect(named(null, 'x')).toEqual(['on x', 'newest of all', 'older of all'])
  })
})

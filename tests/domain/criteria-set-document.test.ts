import { describe, expect, it } from 'vitest'
import { PUBLISHED_CRITERIA_SETS } from '../../src/compute/index.ts'
import { criteriaSetDocument, criteriaSetOfVersion } from '../../src/domain/criteria-set-document.ts'
import { toFaults } from '../../src/domain/faults.ts'

const published = PUBLISHED_CRITERIA_SETS.map((set) => [set.key, set] as const)
const faultsOf = (document: unknown) => {
  const parsed = criteriaSetDocument.safeParse(document)
  return parsed.success ? [] : toFaults(parsed.error, document).map(({ pointer, code }) => `${pointer} ${code}`)
}
const { version: _, ...kyritsis } = structuredClone(PUBLISHED_CRITERIA_SETS[0]!) as unknown as {
  version: number
  key: string
  rule: unknown
  criteria: Record<string, unknown>[]
  population: Record<string, unknown>
}
const changed = (change: (set: typeof kyritsis) => void) => {
  const copy = structuredClone({ ...kyritsis, key: 'own' })
  change(copy)
  return copy
}

describe('the shape of a criteria set', () => {
  it.each(published)(
    'holds the published set %s as it is, so that every test it asks for can be recorded',
    (_key, set) => {
      const parsed = criteriaSetOfVersion.safeParse(set)
      expect(parsed.error?.issues).toBeUndefined()
      expect(parsed.data).toEqual(set)
    },
  )

  it('takes a set of a clinic without a version, which the service gives', () => {
    expect(faultsOf(changed(() => {}))).toEqual([])
    expect(faultsOf(changed((set) => Object.assign(set, { version: 3 })))).toEqual(['#/version unknown_field'])
  })

  it.each([
    ['a test that nobody can record', '#/criteria/1/test not_in_list', (set: typeof kyritsis) => (set.criteria[1]!['test'] = 'somersault')], // prettier-ignore
    ['a threshold in the wrong unit', '#/criteria/0/threshold', (set: typeof kyritsis) => (set.criteria[0]!['threshold'] = { value: 10, unit: 'N.m' })], // prettier-ignore
    ['a comparator that is none', '#/criteria/0/comparator not_in_list', (set: typeof kyritsis) => (set.criteria[0]!['comparator'] = '=>')], // prettier-ignore
    ['a time taken for better when higher', '#/criteria/1/betterWhen contradiction', (set: typeof kyritsis) => (set.criteria[1]!['betterWhen'] = 'lower')], // prettier-ignore
    ['a run of the involved limb', '#/criteria/4/limb contradiction', (set: typeof kyritsis) => (set.criteria[4]!['limb'] = 'involved')], // prettier-ignore
    ['one key for two criteria', '#/criteria contradiction', (set: typeof kyritsis) => (set.criteria[1]!['key'] = set.criteria[0]!['key'])], // prettier-ignore
    ['a rule that asks for more criteria than there are', '#/criteria contradiction', (set: typeof kyritsis) => (set.rule = { kind: 'at_least', count: 7 })], // prettier-ignore
    ['a rule that nothing would have to be met for', '#/rule/count out_of_range', (set: typeof kyritsis) => (set.rule = { kind: 'at_least', count: 0 })], // prettier-ignore
    ['no criteria, which everyone would meet', '#/criteria too_few', (set: typeof kyritsis) => (set.criteria = [])],
    ['an observation that means nothing was seen', '#/criteria/5/threshold not_in_list', (set: typeof kyritsis) => (set.criteria[5]!['threshold'] = 'not_assessed')], // prettier-ignore
    ['an observation in the words of another one', '#/criteria/5/threshold not_in_list', (set: typeof kyritsis) => (set.criteria[5]!['threshold'] = 'within_reference')], // prettier-ignore
    ['ages that end before they begin', '#/population/ageYears out_of_order', (set: typeof kyritsis) => (set.population['ageYears'] = { from: 40, to: 18 })], // prettier-ignore
  ])('refuses %s', (_what, fault, change) => {
    expect(faultsOf(changed((set) => void change(set))).join(' ')).toContain(fault)
  })
})

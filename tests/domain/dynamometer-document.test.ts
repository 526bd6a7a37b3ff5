import { describe, expect, it } from 'vitest'
import { dynamometerDocument, dynamometerOnRecord } from '../../src/domain/dynamometer-document.ts'

describe('a description on record', () => {
  it('stays readable although a rule of today would refuse it: setups were made under it', () => {
    const marks = { key: 'rail', label: 'Rail', kind: 'scaleMark', mirror: 'same', scales: { left: 'a', right: 'a' }, marks: ['1', '1'] } // prettier-ignore
    const document = { name: 'Old machine', settings: [marks] }
    expect(dynamometerDocument.safeParse(document).success).toBe(false)
    expect(dynamometerOnRecord.parse(document).settings[0]).toMatchObject({ marks: ['1', '1'] })
  })
})

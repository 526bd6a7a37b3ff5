import { describe, it, expect } from 'vitest'
import { estimateAxisOffset, misalignmentPadOnArm } from '../../src/compute/alignment/index.ts'
import { compareFacts } from '../../src/compute/comparability/index.ts'
import { screenPain, screenUnitErrors } from '../../src/compute/hazards/index.ts'
import { evaluateCriteriaSet, ikdcTotal, meetsThreshold } from '../../src/compute/readiness/index.ts'
import type { CriteriaSet, CriterionAnswer, Evidence } from '../../src/compute/readiness/index.ts'
import { convert, suggestUnit, unitKind } from '../../src/compute/units/index.ts'
import { KNOWN_FACTS } from './comparability/known-facts.ts'
import { AT, CONTEXT, EVIDENCE, functional, limb, publishedSet, strength } from './readiness/made-up-subject.ts'

function criterion(setKey: string, key: string, evidence: Evidence): CriterionAnswer {
  const set = publishedSet(setKey)
  const one: CriteriaSet = { ...set, criteria: set.criteria.filter((candidate) => candidate.key === key) }
  const answer = evaluateCriteriaSet(one, evidence, CONTEXT).criteria[0]
  if (answer === undefined) throw new Error(`no criterion ${key}`)
  return answer
}
const observed = (answer: CriterionAnswer): number => (answer.observed as { value: number }).value

describe('traps of the trade, in decisions', () => {
  it('trap 3: Nm is not the code of a newton metre, and a newton metre is not a joule', () => {
    expect(unitKind('Nm')).toBeNull()
    expect(suggestUnit('Nm')).toBe('N.m')
    expect(() => convert(1, 'N.m', 'J')).toThrow(RangeError)
  })

  it('trap 5: exactly 90 meets "at or above 90" and does not meet "above 90"', () => {
    expect(meetsThreshold(90, '>=', 90)).toBe(true)
    expect(meetsThreshold(90, '>', 90)).toBe(false)
    const evidence = { ...EVIDENCE, strength: [strength(200, 180)] }
    expect(criterion('toole-2017', 'quadriceps-symmetry', evidence).verdict).toBe('met')
    expect(criterion('gokeler-2017', 'quadriceps-symmetry-60', evidence).verdict).toBe('not_met')
    expect(criterion('kyritsis-2016', 'quadriceps-deficit-60', evidence).verdict).toBe('not_met')
  })

  it('trap 6: a timed hop is turned round, so that the slower involved limb is below 100', () => {
    const hops = [
      functional('six_metre_timed_hop', 'left', 2, 's'),
      functional('six_metre_timed_hop', 'right', 2.2, 's'),
    ]
    expect(observed(criterion('grindem-2020', 'timed-hop', { ...EVIDENCE, functional: hops }))).toBeCloseTo(90.9091, 4)
  })

  it('trap 7: without a test of the other limb from before there is no capacity, and a later test does not stand in', () => {
    const evidence = { ...EVIDENCE, strength: [strength(200, 190)], preInjury: [] }
    const answer = criterion('wellsandt-2017', 'quadriceps-pre-injury-capacity', evidence)
    expect(answer).toMatchObject({ verdict: 'not_assessable', reason: 'no_pre_injury_test', observed: null })
    const before = EVIDENCE.preInjury.map((reference) => ({ ...reference, outcome: { value: 230, unit: 'N.m' } }))
    const known = criterion('wellsandt-2017', 'quadriceps-pre-injury-capacity', { ...evidence, preInjury: before })
    expect(observed(known)).toBeCloseTo(82.6087, 4)
    expect(observed(criterion('wellsandt-2017', 'quadriceps-symmetry', evidence))).toBe(95)
  })

  it('trap 15: a gravity-corrected test is not compared with an uncorrected one, nor with one of unknown state', () => {
    const of = (gravityCorrected: 'no' | null) =>
      compareFacts(KNOWN_FACTS, { ...KNOWN_FACTS, gravityCorrected }, 'peakTorque')
    expect(of('no')).toMatchObject({ verdict: 'not_comparable', reasons: [{ factor: 'gravity_correction' }] })
    expect(of(null)).toMatchObject({ verdict: 'not_assessable', reasons: [{ factor: 'gravity_correction' }] })
  })

  it('trap 17: a raw IKDC sum of 60 is two different totals, and a total of the other form is not read', () => {
    expect(ikdcTotal(60, '18_items_of_87').value).toBeCloseTo(68.9655, 4)
    expect(ikdcTotal(60, 'items_from_1').value).toBeCloseTo(48.2759, 4)
    const total = (formVersion: string): Evidence => ({
      ...EVIDENCE,
      questionnaires: [
        {
          functionalResultId: 'q',
          performedAt: AT,
          questionnaire: 'ikdc_subjective',
          formVersion,
          outcome: { value: 92, unit: '{score}' },
          standing: 'in_force',
        },
      ],
    })
    expect(criterion('toole-2017', 'ikdc', total('current_87_points')).verdict).toBe('met')
    expect(criterion('toole-2017', 'ikdc', total('original_2000')).reason).toBe('form_version_differs')
  })

  it('trap 18: a symmetry above 100 is kept', () => {
    const answer = criterion('toole-2017', 'quadriceps-symmetry', { ...EVIDENCE, strength: [strength(180, 207)] })
    expect(observed(answer)).toBeCloseTo(115, 10)
  })

  it('trap 19: foot-pounds convert exactly, and foot-pounds sent as newton metres are asked about', () => {
    expect(convert(7, '[ft_i].[lbf_av]', 'N.m')).toBeCloseTo(9.4907, 4)
    expect(convert(3, '[ft_i].[lbf_av]', 'N.m')).toBeCloseTo(4.0675, 4)
    const sent = (['left', 'right'] as const).map((side) => ({
      target: side,
      origin: 'recorded' as const,
      side,
      movement: 'extension' as const,
      velocityDegS: 60,
      torqueNm: 170 / 1.3558179483314004,
      historyNm: [168, 172],
      leverArmM: 0.3,
    }))
    expect(screenUnitErrors(sent).map((finding) => finding.level)).toEqual(['hold', 'hold'])
  })

  it('trap 20: (20, -20) mm looks like no offset at 90 and 0 deg, so two angles give no verdict and a third finds it', () => {
    const at = (kneeAngleDeg: number) => ({
      kneeAngleDeg,
      padPositionMm: misalignmentPadOnArm({ forwardMm: 20, upMm: -20 }, 300, kneeAngleDeg)?.padDistanceMm ?? Number.NaN,
    })
    expect(at(90).padPositionMm - at(0).padPositionMm).toBeCloseTo(0, 9)
    expect(at(45).padPositionMm - at(90).padPositionMm).toBeCloseTo(-7.62, 2)
    const check = { readingErrorMm: 1, padMountedOn: 'arm' as const, distanceMm: 300, scaleStartMm: null }
    expect(estimateAxisOffset({ ...check, readings: [at(90), at(0)] })).toMatchObject({
      verdict: 'cannot_tell',
      reason: 'too_few_angles',
    })
    const found = estimateAxisOffset({ ...check, readings: [at(90), at(45), at(0)] })
    expect(found).toMatchObject({ verdict: 'beyond_tolerance', reason: null })
    expect(found.forwardMm).toBeCloseTo(20, 6)
    expect(found.upMm).toBeCloseTo(-20, 6)
  })

  it('a test under pain is held, compares with nothing and meets no criterion', () => {
    expect(screenPain(4, 't')?.level).toBe('hold')
    const painful = { ...KNOWN_FACTS, painDuring: 4 }
    expect(compareFacts(KNOWN_FACTS, painful, 'peakTorque').verdict).toBe('not_comparable')
    expect(compareFacts(painful, painful, 'peakTorque').verdict).toBe('not_comparable')
    const right = limb(199, 'r', { painDuring: 4 })
    const answer = criterion('toole-2017', 'quadriceps-symmetry', {
      ...EVIDENCE,
      strength: [strength(200, 0, { right })],
    })
    expect(answer).toMatchObject({ verdict: 'not_assessable', reason: 'pain_limited' })
  })

  it('trap 23: the hazard ratio of 4.1 and the crude risk ratio of 3.22 are both shown and called by their names', () => {
    const crude = 14 / 42 / (12 / 116)
    expect(crude).toBeCloseTo(3.22, 2)
    const { limits } = publishedSet('kyritsis-2016')
    expect(limits).toContain('hazard ratio of 4.1')
    expect(limits).toContain(`crude risk ratio of the same data is ${crude.toFixed(2)}`)
  })
})

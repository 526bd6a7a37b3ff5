import { describe, expect, it } from 'vitest'
import { analyseRecording, DEFAULT_PARAMETERS } from '../../src/compute/index.ts'
import type { AnalysisParameters, Finding, Protocol, Recording } from '../../src/compute/index.ts'
import { concentric, kneeTorque, protocolOf, recordingOf, trapezoids } from './hand-made-recording.ts'

const both = [concentric('extension', 60), concentric('flexion', 60)]
const course = trapezoids([90, 5, 90, 5, 90, 5, 90], 60, 2000)
const steady = recordingOf(course, kneeTorque(180, 100))
const analyse = (recording: Partial<Recording> = {}, protocol: Partial<Protocol> = {}) =>
  analyseRecording({ ...steady, ...recording }, protocolOf(both, protocol))
const findingsOf = (recording: Partial<Recording> = {}, protocol: Partial<Protocol> = {}): readonly Finding[] =>
  analyse(recording, protocol).findings
const level = (findings: readonly Finding[], code: string) => findings.find((finding) => finding.code === code)?.level

describe('what has to be said about how a recording was made', () => {
  const model = {
    kind: 'cosine',
    momentNm: 12,
    orientation: { belowHorizontalAtZeroDeg: 0, perJointDegree: 1 },
  } as const

  it('is nothing where all is declared and done', () => {
    expect(findingsOf()).toEqual([])
    expect(findingsOf({ torqueState: 'measured' }, { gravity: model })).toEqual([])
  })

  it('is the state of gravity, by how far it can be trusted', () => {
    expect(findingsOf({}, { gravity: model })).toEqual([
      expect.objectContaining({ code: 'gravity_corrected_by_device', level: 'note' }),
    ])
    expect(findingsOf({ torqueState: 'measured' })).toEqual([
      expect.objectContaining({ code: 'gravity_not_corrected', level: 'caution' }),
    ])
    expect(level(findingsOf({ torqueState: 'unknown' }, { gravity: model }), 'gravity_correction_unknown')).toBe(
      'caution',
    )
  })

  it('is what the device did to the signal', () => {
    expect(findingsOf({ deviceWindowing: 'applied' })).toEqual([
      expect.objectContaining({ code: 'windowed_by_device', level: 'caution' }),
    ])
    expect(findingsOf({ deviceWindowing: 'unknown' })).toEqual([
      expect.objectContaining({ code: 'device_windowing_unknown', level: 'caution' }),
    ])
    expect(findingsOf({ deviceFilter: 'applied' })).toEqual([
      expect.objectContaining({ code: 'filtered_by_device', level: 'note' }),
    ])
    expect(findingsOf({ deviceFilter: 'unknown' })).toEqual([
      expect.objectContaining({ code: 'device_filter_unknown', level: 'caution' }),
    ])
  })

  it('takes away work over the full range where the device cut it, and not work over the load range', () => {
    const parameters: AnalysisParameters = { ...DEFAULT_PARAMETERS, workWindow: 'full_range' }
    const cut = analyse({ deviceWindowing: 'applied' }, { parameters }).directions[0]!.measures
    const missing = { value: null, reason: 'windowed_by_device' }
    for (const name of ['workPerRepetition', 'averagePower', 'impulse', 'workPerBodyMass'] as const) {
      expect(cut[name]!.best, name).toEqual(missing)
    }
    expect(cut.peakTorque!.best!.value).toBeCloseTo(180, 0)
    const load = analyse({ deviceWindowing: 'applied' }).directions[0]!.measures
    const full = analyse({}, { parameters }).directions[0]!.measures
    expect(full.workPerRepetition!.best!.value).toBeGreaterThan(load.workPerRepetition!.best!.value!)
  })
})

describe('what has to be said about the repetitions', () => {
  /** Extension strength of each repetition in turn. */
  const graded = (strengths: readonly number[]) => {
    let movement = -1
    let last = 0
    return recordingOf(course, (angle, velocity) => {
      if (velocity > 0 && last <= 0) movement += 1
      last = velocity
      return kneeTorque(strengths[movement] ?? 0, 100)(angle, velocity)
    })
  }

  it('is a hint to repeat a set whose peaks vary by more than 10 %, and no more than a hint', () => {
    const spread = analyseRecording(graded([180, 140, 180]), protocolOf(both))
    const variation = spread.directions[0]!.measures.peakTorque!.coefficientOfVariation!.value!
    expect(variation).toBeGreaterThan(13)
    expect(spread.findings).toEqual([
      expect.objectContaining({
        code: 'repetitions_vary',
        movement: 'extension',
        level: 'note',
        detail: expect.stringContaining('extension') as string,
      }),
    ])
    expect(spread.directions[0]!.counted).toBe(3)
    expect(analyseRecording(graded([180, 165, 180]), protocolOf(both)).findings).toEqual([])
  })

  it('is a peak at the edge of the load range, with the numbers of the repetitions that count', () => {
    const rising = recordingOf(course, (angle, velocity) => (velocity > 0 ? 200 - angle : velocity < 0 ? -80 : 0))
    const notes = [{ repetition: 2, count: 'no', reason: 'aborted' }] as const
    const findings = analyseRecording(rising, protocolOf([both[0]!], { repetitionNotes: notes })).findings
    expect(findings).toEqual([
      expect.objectContaining({
        code: 'peak_torque_near_edge',
        level: 'caution',
        detail: expect.stringContaining('extension, repetition 1, 3:') as string,
      }),
    ])
  })

  it('is another number of repetitions than was meant', () => {
    expect(findingsOf({}, { intendedRepetitions: 3 })).toEqual([])
    const fewer = findingsOf({}, { intendedRepetitions: 5 })
    expect(fewer.map(({ code, level: of }) => [code, of])).toEqual([
      ['repetition_count_differs', 'note'],
      ['repetition_count_differs', 'note'],
    ])
    expect(fewer.map(({ movement }) => movement)).toEqual(['extension', 'flexion'])
    expect(fewer[0]!.detail).toBe('3 repetitions of extension, 5 intended.')
  })

  it('is a note that matches no repetition of either direction', () => {
    const noted = (repetition: number) =>
      findingsOf({}, { repetitionNotes: [{ repetition, count: 'yes', reason: 'good' }] })
    expect(noted(3)).toEqual([])
    expect(noted(4)).toEqual([expect.objectContaining({ code: 'repetition_note_unmatched', level: 'caution' })])
  })

  it('is that none was found, or that none counts', () => {
    const still = trapezoids([90], 60, 2000, 2)
    const nothing = analyseRecording(
      recordingOf(still, () => 0),
      protocolOf([both[0]!]),
    ).findings
    expect(nothing).toEqual([expect.objectContaining({ code: 'no_repetition_found', level: 'caution' })])
    const notes = [1, 2, 3].map((repetition) => ({ repetition, count: 'no', reason: 'pain' }) as const)
    expect(level(findingsOf({}, { repetitionNotes: notes }), 'no_counted_repetition')).toBe('caution')
  })
})

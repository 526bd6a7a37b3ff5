import { describe, expect, it } from 'vitest'
import { DEFAULT_PARAMETERS } from '../../../src/compute/index.ts'
import type { DirectionAnalysis, Protocol, RepetitionResult } from '../../../src/compute/index.ts'
import { measureContractions } from '../../../src/compute/measures/measure-set.ts'
import { processingFindings, setFindings } from '../../../src/compute/set-findings.ts'
import { concentric, kneeTorque, protocolOf, recordingOf, trapezoids } from '../hand-made-recording.ts'

describe('the contractions of an isometric set', () => {
  it('look for their onset after the one before, which may end where they begin to rise', () => {
    // 100 samples per second: two holds of 100 N.m for 400 ms, and 300 ms between them
    const torque = Float64Array.from({ length: 300 }, (_, i) => ((i > 50 && i < 91) || (i > 120 && i < 161) ? 100 : 0))
    const signals = {
      sampleRateHz: 100,
      startS: 0,
      torqueNm: torque,
      angleDeg: new Float64Array(300).fill(60),
      velocityDegS: new Float64Array(300),
    }
    const protocol = protocolOf([{ movement: 'extension', contractionMode: 'isometric', velocityDegS: 0 }])
    const onsets = (torqueNm: Float64Array) =>
      measureContractions({ ...signals, torqueNm }, torqueNm, protocol, []).repetitions[0]!.map(
        ({ repetition, startS, flags }) => [repetition, startS, flags],
      )
    expect(onsets(torque)).toEqual([
      [1, 0.5, []],
      [2, 1.2, []],
    ])
    // 19 samples of rest between them are no window of 200 ms: the second has no resting level
    const close = torque.map((_, i) => ((i > 50 && i < 91) || (i > 109 && i < 150) ? 100 : 0))
    expect(onsets(close)).toEqual([
      [1, 0.5, []],
      [2, 1.1, ['onset_not_found']],
    ])
    // 20 are
    const far = torque.map((_, i) => ((i > 50 && i < 91) || (i > 110 && i < 151) ? 100 : 0))
    expect(onsets(far)[1]).toEqual([2, 1.1, []])
  })
})

describe('the sentences of findings', () => {
  const both = [concentric('extension', 60), concentric('flexion', 60)]
  const recording = recordingOf(trapezoids([90, 5], 60, 2000), kneeTorque(180, 100))
  const sentences = (changes: Partial<typeof recording>, protocol: Partial<Protocol> = {}) =>
    processingFindings({ ...recording, ...changes }, protocolOf(both, protocol)).map(({ detail }) => detail)

  it('say what was not done to the signal, and why that matters', () => {
    expect(sentences({ torqueState: 'unknown' })).toEqual([
      'Whether the torque is corrected for gravity is not known; it was not corrected. Work, ratios and the torque of the movement that gravity helps cannot be assessed.',
    ])
    expect(sentences({ torqueState: 'measured' })).toEqual([
      'The torque was measured and no limb weighing can be used: gravity is in it.',
    ])
    const model = { kind: 'horizontal_plane' } as NonNullable<Protocol['gravity']>
    expect(sentences({}, { gravity: model })).toEqual([
      'The device corrected for gravity; the limb weighing was not applied again.',
    ])
    expect(sentences({ deviceWindowing: 'applied' })).toEqual([
      'The device cut the recording to its own window; torque outside is not strength.',
    ])
    expect(sentences({ deviceWindowing: 'unknown' })).toEqual([
      'Whether the device cut the recording to its own window is not known.',
    ])
  })

  function direction(changes: Partial<DirectionAnalysis>): DirectionAnalysis {
    return {
      ...concentric('extension', 60),
      repetitions: [1, 2].map(
        (repetition) => ({ repetition, counted: 'yes', flags: [] }) as unknown as RepetitionResult,
      ),
      counted: 2,
      notCounted: [],
      measures: {},
      torqueAtAngle: [],
      ...changes,
    }
  }
  const found = (directions: readonly DirectionAnalysis[], protocol: Partial<Protocol> = {}) =>
    setFindings(directions, protocolOf(both, { parameters: DEFAULT_PARAMETERS, ...protocol })).map(
      ({ code, level, detail }) => [code, level, detail],
    )

  it('name movement, number and repetition', () => {
    expect(found([direction({})])).toEqual([])
    expect(found([direction({ repetitions: [], counted: 0 })])).toEqual([
      ['no_repetition_found', 'caution', 'No repetition of extension was found.'],
    ])
    expect(found([direction({ counted: 0 })])).toEqual([
      ['no_counted_repetition', 'caution', 'No repetition of extension counts.'],
    ])
    const other = [{ repetition: 2, reason: 'muscle_power_has_other_sign' }]
    expect(found([direction({ notCounted: other })])).toEqual([
      ['contraction_mode_differs', 'caution', 'extension: the muscle worked the other way in some repetitions.'],
    ])
  })

  it('call a variation large beyond 10 %, not at it', () => {
    const varying = (value: number | null) =>
      found([
        direction({
          measures: {
            peakTorque: {
              coefficientOfVariation: value === null ? { value, reason: 'too_few_repetitions' } : { value, n: 2 },
            },
          },
        }),
      ])
    expect([varying(null), varying(10)]).toEqual([[], []])
    expect(varying(10.04)).toEqual([
      ['repetitions_vary', 'note', 'Peak torque of extension varies by 10.0 %: repeat the set.'],
    ])
  })

  it('miss a noted repetition only where no direction has it', () => {
    const note = (repetition: number) => ({ repetitionNotes: [{ repetition, count: 'no', reason: 'pain' } as const] })
    const shorter = direction({ movement: 'flexion', repetitions: direction({}).repetitions.slice(0, 1) })
    expect(found([direction({}), shorter], note(2))).toEqual([])
    expect(found([direction({}), shorter], note(3))).toEqual([
      ['repetition_note_unmatched', 'caution', 'A note names repetition 3, which was not found.'],
    ])
  })
})

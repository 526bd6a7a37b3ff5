import type { DirectionAnalysis, Finding, Protocol, Recording } from './types.ts'

/** What has to be said about how the recording was made. */
export function processingFindings(recording: Recording, protocol: Protocol): Finding[] {
  const findings: Finding[] = []
  const say = (code: string, level: Finding['level'], detail: string) => findings.push({ code, level, detail })
  if (recording.torqueState === 'unknown') {
    say(
      'gravity_correction_unknown',
      'caution',
      'Whether the torque is corrected for gravity is not known; it was not corrected. Work, ratios and the torque of the movement that gravity helps cannot be assessed.',
    )
  } else if (recording.torqueState === 'gravity_corrected') {
    if (protocol.gravity !== null) {
      say(
        'gravity_corrected_by_device',
        'note',
        'The device corrected for gravity; the limb weighing was not applied again.',
      )
    }
  } else if (protocol.gravity === null) {
    say(
      'gravity_not_corrected',
      'caution',
      'The torque was measured and no limb weighing can be used: gravity is in it.',
    )
  }
  if (recording.deviceWindowing === 'applied') {
    say(
      'windowed_by_device',
      'caution',
      'The device cut the recording to its own window; torque outside is not strength.',
    )
  } else if (recording.deviceWindowing === 'unknown') {
    say('device_windowing_unknown', 'caution', 'Whether the device cut the recording to its own window is not known.')
  }
  return findings
}

/** What has to be said about the repetitions. Hints to look again, never a judgement on effort. */
export function setFindings(directions: readonly DirectionAnalysis[], protocol: Protocol): Finding[] {
  const findings: Finding[] = []
  for (const { movement, repetitions, counted, notCounted, measures } of directions) {
    const say = (code: string, level: Finding['level'], detail: string) =>
      findings.push({ code, movement, level, detail })
    if (repetitions.length === 0) say('no_repetition_found', 'caution', `No repetition of ${movement} was found.`)
    else if (counted === 0) say('no_counted_repetition', 'caution', `No repetition of ${movement} counts.`)
    if (protocol.intendedRepetitions !== null && repetitions.length !== protocol.intendedRepetitions) {
      const detail = `${repetitions.length} repetitions of ${movement}, ${protocol.intendedRepetitions} intended.`
      say('repetition_count_differs', 'note', detail)
    }
    if (notCounted.some(({ reason }) => reason === 'muscle_power_has_other_sign')) {
      say('contraction_mode_differs', 'caution', `${movement}: the muscle worked the other way in some repetitions.`)
    }
    const variation = measures.peakTorque?.coefficientOfVariation
    if (variation !== undefined && variation.value !== null && variation.value > 10) {
      say(
        'repetitions_vary',
        'note',
        `Peak torque of ${movement} varies by ${variation.value.toFixed(1)} %: repeat the set.`,
      )
    }
    const nearEdge = repetitions.filter(({ flags, counted }) => {
      return counted === 'yes' && flags.includes('peak_torque_near_edge')
    })
    if (nearEdge.length > 0) {
      const numbers = nearEdge.map(({ repetition }) => repetition).join(', ')
      say(
        'peak_torque_near_edge',
        'caution',
        `${movement}, repetition ${numbers}: the peak lies at the load range's edge.`,
      )
    }
  }
  for (const note of protocol.repetitionNotes) {
    if (directions.some(({ repetitions }) => note.repetition <= repetitions.length)) continue
    const detail = `A note names repetition ${note.repetition}, which was not found.`
    findings.push({ code: 'repetition_note_unmatched', level: 'caution', detail })
  }
  return findings
}

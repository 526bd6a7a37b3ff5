import type { ComparabilityFacts, SettingFact } from '../../../src/compute/comparability/index.ts'

export function setting(key: string, value: SettingFact['value'], more: Partial<SettingFact> = {}): SettingFact {
  return {
    key,
    factor: null,
    value,
    tolerance: 1,
    effectBeyondTolerance: 'caution',
    affects: 'all',
    mirror: 'same',
    ...more,
  }
}

/** A seated knee extension at 60 deg/s with nothing left out; invented. */
export const KNOWN_FACTS: ComparabilityFacts = {
  joint: 'knee',
  side: 'right',
  movement: 'extension',
  contractionMode: 'isokinetic_concentric',
  contractionScheme: 'reciprocal',
  velocityDegS: 60,
  intendedRepetitions: 5,
  dynamometerId: 'strength-lab-1',
  deviceFamily: 'family-a',
  descriptionVersion: 3,
  attachment: 'shin-pad',
  leverArmMm: 300,
  padMountedOn: 'arm',
  bodyPosition: 'seated',
  settings: [
    setting('backrestAngle', { kind: 'quantity', value: 85, unit: 'deg' }, { tolerance: 5 }),
    setting('seatDepth', { kind: 'quantity', value: 42, unit: 'cm' }),
  ],
  trunkStraps: 'both',
  thighStrap: 'firm',
  otherLimbStabiliser: 'used',
  lumbarSupport: 'none',
  hands: 'holding_handles',
  stops: { firstDeg: 5, secondDeg: 95 },
  anatomicalZero: { readingDeg: 0, afterLastAdjustment: 'yes' },
  axis: { padTravel: 'slight', offset: { forwardMm: 4.2, upMm: -3.2, halfWidthMm: 6 } },
  gravityCorrected: 'yes',
  deviceFilter: 'none',
  deviceWindowing: 'none',
  processingKey: 'a1b2',
  verbalEncouragement: 'script_a',
  visualFeedback: 'none',
  familiarisation: 'earlier_session',
  startMinuteOfDay: 9 * 60 + 5,
  operator: 'ST-14',
  restBeforeS: 120,
  limbOrder: 'uninvolved_first',
  velocityOrder: 'ascending',
  warmUp: 'cycling 5 min',
  painDuring: 1,
  bodyMassKg: 68.4,
}

/**
 * A description to begin with for seated knee work: what a setup wants to achieve, in anatomical terms, with tolerances that the
 * comparability rules or common practice suggest. A clinic posts it, renames it and adds the dials and scales of its own machine;
 * no maker's scales are in it. Common practice, no source, unless a rule names one.
 */
import type { z } from 'zod'
import type { dynamometerDocument } from './dynamometer-document.ts'

export const STARTER_DYNAMOMETER = {
  name: 'Seated knee, to be completed by the clinic',
  settings: [
    {
      key: 'hipAngle',
      label: 'Hip angle between trunk and thigh, by the backrest',
      factor: 'hip_angle',
      kind: 'quantity',
      unit: 'deg',
      range: { low: 60, high: 120 },
      step: 1,
      mirror: 'same',
      tolerance: { value: 5, unit: 'deg' },
      startValue: { value: 85, unit: 'deg' },
    },
    {
      key: 'seatDepth',
      label: 'Seat depth, backrest to seat edge',
      kind: 'quantity',
      unit: 'cm',
      range: { low: 30, high: 60 },
      mirror: 'same',
      tolerance: { value: 1, unit: 'cm' },
    },
    {
      key: 'axisHeight',
      label: 'Height of the machine’s axis above the seat',
      kind: 'quantity',
      unit: 'cm',
      range: { low: -20, high: 40 },
      mirror: 'same',
      tolerance: { value: 1, unit: 'cm' },
    },
    {
      key: 'axisForeAft',
      label: 'Machine’s axis ahead of the seat edge, to bring it opposite the knee axis',
      kind: 'quantity',
      unit: 'cm',
      range: { low: -30, high: 30 },
      mirror: 'same',
      tolerance: { value: 1, unit: 'cm' },
    },
    {
      key: 'sidewaysDistance',
      label: 'Seat to machine, so that the shin meets the pad centrally',
      kind: 'quantity',
      unit: 'cm',
      range: { low: 0, high: 80 },
      mirror: 'same',
      tolerance: { value: 2, unit: 'cm' },
      effectBeyondTolerance: 'note',
    },
    {
      key: 'machineTurn',
      label: 'Turn of the machine against the seat, positive to the right',
      kind: 'quantity',
      unit: 'deg',
      range: { low: -45, high: 45 },
      mirror: 'negated',
      tolerance: { value: 3, unit: 'deg' },
      startValue: { value: 0, unit: 'deg' },
    },
    {
      key: 'machineTilt',
      label: 'Tilt of the machine',
      kind: 'quantity',
      unit: 'deg',
      range: { low: -45, high: 45 },
      mirror: 'same',
      tolerance: { value: 2, unit: 'deg' },
      startValue: { value: 0, unit: 'deg' },
    },
    {
      key: 'axisLandmark',
      label: 'Landmark brought opposite the centre of the machine’s arm',
      kind: 'choice',
      choices: ['lateral_femoral_condyle', 'lateral_joint_line'],
      mirror: 'same',
      startChoice: 'lateral_femoral_condyle',
    },
  ],
  attachments: [
    {
      key: 'shin-pad',
      label: 'Shin pad',
      leverArmLength: { low: { value: 0.15, unit: 'm' }, high: { value: 0.5, unit: 'm' } },
    },
  ],
  optionalParts: [
    { key: 'seatWedge', label: 'Wedge under the thigh', effectOfDifference: 'caution' },
    { key: 'footRest', label: 'Rest for the other foot', effectOfDifference: 'note' },
  ],
} as const satisfies z.input<typeof dynamometerDocument>

export const STARTER_NOTES = [
  'Post it to /v1/dynamometers with a name of your own, an externalId, and a setting for every dial and scale of your machine.',
  'The stops of a test, its lever arm, straps and hands are recorded in the setup itself: they need no setting here.',
  'Start values are where a first test begins before the subject sits; fore-aft and height are changed again to bring the axes in line.',
] as const

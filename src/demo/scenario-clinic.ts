/** Two invented clinics, their people, one invented subject, and the machine as its clinic describes it. */

export const MAIN_CLINIC = { key: 'tarnfield', name: 'Tarnfield Knee and Strength Clinic' }
export const OTHER_CLINIC = { key: 'ostermoor', name: 'Ostermoor Movement Practice' }

export const SYSTEMS = {
  recordNumber: 'https://tarnfield.example/record-number',
  staff: 'https://tarnfield.example/staff',
  equipment: 'https://tarnfield.example/equipment',
  visit: 'https://records.tarnfield.example/visit',
  case: 'https://records.tarnfield.example/case',
} as const

export const PEOPLE = [
  { clinic: 'tarnfield', key: 'owner', name: 'Hanne Quillfeather', role: 'owner', staffNumber: 'T-01' },
  { clinic: 'tarnfield', key: 'clinician', name: 'Jonas Averling', role: 'clinician', staffNumber: 'T-07' },
  { clinic: 'tarnfield', key: 'assistant', name: 'Pia Lindwater', role: 'assistant', staffNumber: 'T-12' },
  { clinic: 'tarnfield', key: 'integration', name: 'Tarnfield records system', role: 'integration', staffNumber: null },
  { clinic: 'tarnfield', key: 'auditor', name: 'Rasmus Fellgate', role: 'auditor', staffNumber: 'T-20' },
  { clinic: 'ostermoor', key: 'other-clinician', name: 'Edda Marwick-Sund', role: 'clinician', staffNumber: null },
] as const

export const SUBJECT = {
  identifiers: [{ system: SYSTEMS.recordNumber, value: 'TK-3081' }],
  name: 'Mira Ashdene-Vale',
  birthDate: '2002-04-18',
  sex: 'female',
  height: { value: 171, unit: 'cm' },
  dominantSide: 'right',
  sport: 'korfball',
  level: 'national second division',
} as const

/**
 * Every setting is the clinic's own: its name, unit or scale, how it mirrors to the other limb, how closely it has to be
 * put back, and what a difference affects. The tolerances are this clinic's choice.
 */
export const DYNAMOMETER = {
  externalId: { system: SYSTEMS.equipment, value: 'lab-east' },
  name: 'Strength lab east',
  settings: [
    {
      key: 'backrestAngle',
      label: 'Backrest angle',
      kind: 'quantity',
      factor: 'backrest_angle',
      unit: 'deg',
      range: { low: 70, high: 110 },
      step: 5,
      mirror: 'same',
      tolerance: { value: 5, unit: 'deg' },
      affects: 'all',
    },
    {
      key: 'seatDepth',
      label: 'Seat depth',
      kind: 'quantity',
      unit: 'cm',
      range: { low: 36, high: 52 },
      step: 0.5,
      mirror: 'same',
      tolerance: { value: 1, unit: 'cm' },
      affects: 'all',
    },
    {
      key: 'axisHeight',
      label: 'Height of the machine axis above the seat rail',
      kind: 'quantity',
      unit: 'cm',
      range: { low: 20, high: 45 },
      step: 0.5,
      mirror: 'same',
      tolerance: { value: 1, unit: 'cm' },
      affects: 'all',
    },
    {
      key: 'machineYaw',
      label: 'Turn of the machine against the seat, positive to the right',
      kind: 'quantity',
      unit: 'deg',
      range: { low: -30, high: 30 },
      step: 1,
      mirror: 'negated',
      tolerance: { value: 2, unit: 'deg' },
      affects: 'all',
    },
    {
      key: 'floorRail',
      label: 'Mark on the floor rail of the side under test',
      kind: 'scaleMark',
      scales: { left: 'rail-left', right: 'rail-right' },
      marks: ['1', '2', '3', '4', '5', '6', '7', '8'],
      mirror: 'same_mark_on_other_scale',
      toleranceMarks: 0,
      affects: 'all',
    },
    {
      key: 'seatWedge',
      label: 'Wedge under the front of the thigh',
      kind: 'choice',
      choices: ['none', 'thin', 'thick'],
      mirror: 'same',
      affects: 'all',
    },
    {
      key: 'footRestFolded',
      label: 'Foot rest folded away',
      kind: 'boolean',
      mirror: 'same',
      affects: [],
    },
  ],
  attachments: [
    {
      key: 'shin-pad',
      label: 'Shin pad, adjustable',
      leverArmLength: { low: { value: 0.2, unit: 'm' }, high: { value: 0.42, unit: 'm' } },
    },
    {
      key: 'thigh-pad',
      label: 'Thigh pad',
      leverArmLength: { low: { value: 0.2, unit: 'm' }, high: { value: 0.5, unit: 'm' } },
    },
  ],
} as const

/** One description serves the whole story. */
export const DESCRIPTION_VERSION = 1

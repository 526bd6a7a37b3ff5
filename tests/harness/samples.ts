/** Invented documents that are accepted as they are. */
import type { Answer, Api } from './clinic.ts'

export const subjectBody = (value = 'RB-20417') => ({
  identifiers: [{ system: 'https://clinic.example/record-number', value }],
  name: 'Example, Avery',
  birthDate: '2001-03-14',
  sex: 'female',
  height: { value: 171, unit: 'cm' },
  dominantSide: 'right',
  sport: 'netball',
  level: 'club',
})

export const episodeBody = (subjectId: string, value = 'C-5120') => ({
  externalId: { system: 'https://ehr.clinic.example/case', value },
  subject: { id: subjectId },
  joint: 'knee',
  involvedSide: 'right',
  otherLimbHistory: 'none_known',
  condition: 'anterior cruciate ligament rupture',
  injuredOn: '2026-01-20',
  surgeryOn: '2026-02-10',
  graft: { type: 'hamstring_tendon', side: 'right' },
  precautions: [{ kind: 'earliest_week', week: 12, contractionMode: 'isokinetic_eccentric', setBy: 'surgeon' }],
  primaryMeasures: [
    {
      movement: 'extension',
      contractionMode: 'isokinetic_concentric',
      velocity: { value: 60, unit: 'deg/s' },
      measure: 'peakTorque',
    },
  ],
})

export const dynamometerBody = (value = 'strength-lab-1') => ({
  externalId: { system: 'https://clinic.example/equipment', value },
  name: 'Strength lab, window side',
  settings: [
    {
      key: 'backrestAngle',
      label: 'Angle of the backrest',
      factor: 'backrest_angle',
      kind: 'quantity',
      unit: 'deg',
      range: { low: 60, high: 110 },
      mirror: 'same',
    },
  ],
  attachments: [{ key: 'shin-pad', label: 'Shin pad' }],
})

export const calibrationBody = () => ({
  checkedAt: '2026-11-02T08:15:00+01:00',
  mass: { value: 20, unit: 'kg' },
  armLength: { value: 0.5, unit: 'm' },
  readTorque: { value: 98.4, unit: 'N.m' },
  nextDueOn: '2027-02-02',
})

/** The id of what was just created; says what came instead. */
export function idOf(answer: Answer<{ id?: string }>): string {
  if (answer.status !== 201 || answer.body.id === undefined)
    throw new Error(`not created: ${answer.status} ${answer.text}`)
  return answer.body.id
}

export const createSubject = async (api: Api, value?: string): Promise<string> =>
  idOf(await api.post('/v1/subjects', subjectBody(value)))

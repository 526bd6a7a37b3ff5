import { DYNAMOMETER, MAIN_CLINIC, OTHER_CLINIC, PEOPLE, SUBJECT, SYSTEMS } from './scenario-clinic.ts'
import {
  buildVisit,
  observationSession,
  reportedVisit,
  type Side,
  type VisitDocument,
  type VisitPlan,
} from './scenario-visit.ts'

/**
 * One invented rehabilitation: a reconstructed knee ligament on the right, a quiet knee before surgery, five visits from the
 * third to the ninth month after it, and the mishaps that a real record has.
 *
 * Everything hangs on `today` and `seed` alone, so the same call builds the same documents.
 */
export interface Scenario {
  readonly clinics: readonly { readonly key: string; readonly name: string }[]
  readonly people: typeof PEOPLE
  readonly subject: typeof SUBJECT
  readonly episode: ReturnType<typeof buildEpisode>
  readonly dynamometer: typeof DYNAMOMETER
  /** Key of the visit that the episode's baseline points at, once it has been pushed. */
  readonly baseline: VisitKey
  /** In order of time; each `document` is a body for POST /v1/sessions. */
  readonly visits: readonly Visit[]
  readonly variants: {
    /** The month 4 visit as it was first sent, with "Nm" for every torque: to be refused. */
    readonly wrongUnit: VisitDocument
    /** Values read from a printout in foot-pounds and sent as N.m: stored, flagged, held. */
    readonly footPoundsAsNewtonMetres: VisitDocument
    /** Key of the visit taken without trunk straps. */
    readonly otherStraps: VisitKey
    /** Key of the visit to be sent twice. */
    readonly retry: VisitKey
    readonly amendment: { readonly visit: VisitKey; readonly reason: string; readonly session: VisitDocument }
  }
  /** A clinician's later word on a criterion that no measurement can answer: a session without a test. */
  readonly laterObservation: ReturnType<typeof observationSession>
}

export interface Visit {
  readonly key: VisitKey
  readonly document: VisitDocument
}

export type VisitKey = 'before-surgery' | 'month-3' | 'month-4' | 'month-6' | 'month-7' | 'month-9'

const SURGERY_TO_LAST_VISIT_DAYS = 273
const LAST_VISIT_BEFORE_TODAY_DAYS = 4
const INVOLVED: Side = 'right'

/** Peak torques that the simulated subject is made for, N.m at 60 deg/s: concave on the involved side, nearly level on the other. */
const COURSE: readonly (VisitPlan & { readonly key: VisitKey })[] = [
  {
    key: 'before-surgery',
    daysAfterSurgery: -20,
    time: '10:10',
    purpose: 'pre_operative_test',
    bodyMassKg: 64.8,
    strength: { extension: { left: 158, right: 136 }, flexion: { left: 90, right: 84 } },
    velocities: [60, 180],
    encoding: 'channels',
    axisCheck: true,
    pain: { before: 0, during: 1, after: 0 },
    functional: 'questionnaires',
  },
  {
    key: 'month-3',
    daysAfterSurgery: 91,
    time: '10:25',
    purpose: 'progress_test',
    bodyMassKg: 66.1,
    strength: { extension: { left: 151, right: 88 }, flexion: { left: 87, right: 68 } },
    velocities: [60, 180],
    encoding: 'csv',
    pain: { before: 0, during: 2, after: 1 },
    abortedInvolved60: 2,
    functional: 'none',
  },
  {
    key: 'month-4',
    daysAfterSurgery: 133,
    time: '09:40',
    purpose: 'progress_test',
    bodyMassKg: 65.7,
    strength: { extension: { left: 153, right: 111 }, flexion: { left: 88, right: 76 } },
    velocities: [60, 180],
    encoding: 'f32leBase64',
    axisCheck: true,
    pain: { before: 0, during: 1, after: 1 },
    functional: 'questionnaires',
  },
  {
    key: 'month-6',
    daysAfterSurgery: 182,
    time: '10:05',
    purpose: 'progress_test',
    bodyMassKg: 65.2,
    // Without trunk straps both knees give some 7 % less.
    strength: { extension: { left: 144, right: 118 }, flexion: { left: 82, right: 74 } },
    velocities: [60, 180, 300],
    encoding: 'csv',
    trunkStraps: 'none',
    pain: { before: 0, during: 1, after: 0 },
    functional: 'hops',
  },
  {
    key: 'month-7',
    daysAfterSurgery: 231,
    time: '09:55',
    purpose: 'progress_test',
    bodyMassKg: 69.4, // typed with two digits swapped; the amendment below puts it right
    strength: { extension: { left: 156, right: 138 }, flexion: { left: 89, right: 84 } },
    velocities: [60, 180, 300],
    encoding: 'channels',
    pain: { before: 0, during: 0, after: 0 },
    functional: 'hops',
  },
  {
    key: 'month-9',
    daysAfterSurgery: SURGERY_TO_LAST_VISIT_DAYS,
    time: '10:15',
    purpose: 'progress_test',
    bodyMassKg: 64.6,
    strength: { extension: { left: 159, right: 149 }, flexion: { left: 91, right: 88 } },
    velocities: [60, 180, 300],
    encoding: 'f32leBase64',
    axisCheck: true,
    pain: { before: 0, during: 0, after: 0 },
    functional: 'full',
  },
]

/** A short visit between the seventh and the ninth month of which only a printout was kept. */
const PRINTOUT: VisitPlan = {
  daysAfterSurgery: 252,
  time: '16:30',
  purpose: 'progress_test',
  bodyMassKg: 64.7,
  strength: { extension: { left: 157, right: 144 }, flexion: { left: 90, right: 86 } },
  velocities: [60, 180],
  encoding: 'channels',
  pain: { before: 0, during: 0, after: 0 },
  functional: 'none',
}

export function buildScenario(seed = 20261125, today: Date = new Date('2026-11-20T12:00:00Z')): Scenario {
  const lastVisit = addDays(today, -LAST_VISIT_BEFORE_TODAY_DAYS)
  const surgery = addDays(lastVisit, -SURGERY_TO_LAST_VISIT_DAYS)
  const visits = COURSE.map((plan, index) => ({
    key: plan.key,
    document: buildVisit(plan, {
      date: isoDate(addDays(surgery, plan.daysAfterSurgery)),
      visitNumber: `TV-${4100 + 17 * index}`,
      seed: seed + 1000 * index,
    }),
  }))
  const documentOf = (key: VisitKey): VisitDocument => visits.find((visit) => visit.key === key)!.document

  return {
    clinics: [MAIN_CLINIC, OTHER_CLINIC],
    people: PEOPLE,
    subject: SUBJECT,
    episode: buildEpisode(surgery),
    dynamometer: DYNAMOMETER,
    baseline: 'before-surgery',
    visits,
    variants: {
      wrongUnit: withMisspeltTorqueUnit(documentOf('month-4')),
      footPoundsAsNewtonMetres: reportedVisit(PRINTOUT, {
        date: isoDate(addDays(surgery, PRINTOUT.daysAfterSurgery)),
        visitNumber: 'TV-4190',
        reportedPerNewtonMetre: 1 / 1.3558179483314004,
      }),
      otherStraps: 'month-6',
      retry: 'month-9',
      amendment: {
        visit: 'month-7',
        reason: 'Body mass was typed with two digits swapped: the scale showed 64.9 kg.',
        session: { ...documentOf('month-7'), bodyMass: { value: 64.9, unit: 'kg' } },
      },
    },
    laterObservation: observationSession({
      date: isoDate(addDays(today, -1)),
      visitNumber: 'TV-4203',
      staffNumber: 'T-07',
      note: 'Six weeks of sport-specific sessions on court, the last two with full contact.',
    }),
  }
}

function buildEpisode(surgery: Date) {
  return {
    externalId: { system: SYSTEMS.case, value: 'TC-0912' },
    subject: { identifier: SUBJECT.identifiers[0] },
    joint: 'knee',
    involvedSide: INVOLVED,
    otherLimbHistory: 'none_known',
    condition: 'rupture of the anterior cruciate ligament',
    injuredOn: isoDate(addDays(surgery, -62)),
    surgeryOn: isoDate(surgery),
    procedure: 'anterior cruciate ligament reconstruction',
    graft: { type: 'patellar_tendon', side: INVOLVED },
    precautions: [],
    primaryMeasures: [
      {
        movement: 'extension',
        contractionMode: 'isokinetic_concentric',
        velocity: { value: 60, unit: 'deg/s' },
        measure: 'peakTorque',
      },
    ],
    criteriaSet: { key: 'kyritsis-2016', version: 1 },
  } as const
}

/** Every torque of the document with the spelling that is not a UCUM unit. */
function withMisspeltTorqueUnit(document: VisitDocument): VisitDocument {
  return JSON.parse(JSON.stringify(document), (_key, value: unknown) =>
    value === 'N.m' ? 'Nm' : value,
  ) as VisitDocument
}

function addDays(date: Date, days: number): Date {
  return new Date(date.getTime() + days * 86_400_000)
}

function isoDate(date: Date): string {
  return date.toISOString().slice(0, 10)
}

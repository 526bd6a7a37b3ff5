import type { ContractionMode, Joint, Movement } from '../types.ts'
import type { ErrorScale, LimbCondition } from './error-model.ts'

export interface PublishedError {
  readonly key: string
  readonly source: string
  readonly joint: Joint
  readonly movements: readonly Movement[]
  /** null: not stated in what was read, so the entry is for reading and never chosen. */
  readonly contractionModes: readonly ContractionMode[] | null
  /** deg/s, exact values (0 isometric); null: not stated in what was read, so never chosen. */
  readonly velocitiesDegS: readonly number[] | null
  /** Measure names as in documents. */
  readonly measures: readonly string[]
  readonly scale: ErrorScale
  /** N.m for absolute torque, else percent. As printed, or implied by the printed MDC where `semImplied`. */
  readonly sem: { readonly low: number; readonly high: number }
  readonly semImplied: boolean
  /** As printed; null where none was. */
  readonly mdcPrinted: { readonly low: number; readonly high: number } | null
  readonly iccForm: string | null
  readonly n: number
  readonly population: {
    readonly limbCondition: LimbCondition
    readonly sex: 'female' | 'male' | 'mixed' | 'not_stated'
    /** Ages the error may be used for; our reading of the sample (common practice, no source). null: age not stated. */
    readonly ageYears: { readonly low: number; readonly high: number } | null
    readonly description: string
  }
  readonly note: string | null
}

const YOUNG_ADULTS = { low: 16, high: 40 } as const
const LBF_FT_IN_NM = 1.3558179483314004
const CONCENTRIC_ECCENTRIC: readonly ContractionMode[] = ['isokinetic_concentric', 'isokinetic_eccentric']
const SOLE = 'Sole 2007 Arch Phys Med Rehabil 88:626-31'
const SOLE_SAMPLE = {
  limbCondition: 'no_history',
  sex: 'mixed',
  ageYears: YOUNG_ADULTS,
  description: '11 men and 7 women, mean age 21, asymptomatic, running-related sports, same examiner',
} as const
const FERRI_MORALES = 'Ferri-Morales 2014 Isokinet Exerc Sci, doi 10.3233/IES-130522'
const FERRI_MORALES_SAMPLE = {
  limbCondition: 'no_history',
  sex: 'mixed',
  ageYears: null,
  description: '12 men and 28 women, retest after 4 to 5 days',
} as const

/**
 * Published test-retest errors as data. Read in abstracts only: nothing beyond the abstract was verified.
 *
 * A range over several measures is kept as a range; `chooseErrorModel` uses its upper end. Each row is bound to its population,
 * machine and protocol. Rows whose velocity or contraction mode we could not read are listed and never chosen.
 * A change here bumps REFERENCE_DATA_VERSION.
 */
export const PUBLISHED_ERRORS: readonly PublishedError[] = [
  {
    key: 'sole-2007-torque-work',
    source: SOLE,
    joint: 'knee',
    movements: ['extension', 'flexion'],
    contractionModes: CONCENTRIC_ECCENTRIC,
    velocitiesDegS: [60],
    measures: ['peakTorque', 'workPerRepetition'],
    scale: 'percent',
    sem: { low: 5, high: 10 },
    semImplied: false,
    mdcPrinted: { low: 12, high: 25 },
    iccForm: 'ICC(3,1)',
    n: 18,
    population: SOLE_SAMPLE,
    note: null,
  },
  {
    key: 'sole-2007-ratios',
    source: SOLE,
    joint: 'knee',
    movements: ['extension', 'flexion'],
    contractionModes: CONCENTRIC_ECCENTRIC,
    velocitiesDegS: [60],
    measures: ['conventionalRatio', 'functionalRatio'],
    scale: 'percent',
    sem: { low: 25 / (1.96 * Math.SQRT2), high: 30 / (1.96 * Math.SQRT2) },
    semImplied: true,
    mdcPrinted: { low: 25, high: 30 },
    iccForm: 'ICC(3,1)',
    n: 18,
    population: SOLE_SAMPLE,
    note: 'Ratios carry more error than torques.',
  },
  {
    key: 'kambic-2020',
    source: 'Kambic 2020 PLoS ONE 15:e0237842',
    joint: 'knee',
    movements: ['extension', 'flexion'],
    contractionModes: null,
    velocitiesDegS: [60],
    measures: ['peakTorque'],
    scale: 'percent',
    sem: { low: 2.54, high: 6.93 },
    semImplied: false,
    mdcPrinted: { low: 7.04, high: 19.22 },
    iccForm: null,
    n: 19,
    population: {
      limbCondition: 'no_history',
      sex: 'mixed',
      ageYears: YOUNG_ADULTS,
      description: '13 men and 6 women, age 24 (SD 2), retest after a week or more',
    },
    note: 'ICC .892 to .988.',
  },
  {
    key: 'ferri-morales-2014-concentric',
    source: FERRI_MORALES,
    joint: 'knee',
    movements: ['extension'],
    contractionModes: ['isokinetic_concentric'],
    velocitiesDegS: [90],
    measures: ['peakTorque', 'workPerRepetition'],
    scale: 'percent',
    sem: { low: 3.1, high: 7.4 },
    semImplied: false,
    mdcPrinted: { low: 8.6, high: 19.9 },
    iccForm: null,
    n: 40,
    population: FERRI_MORALES_SAMPLE,
    note: 'One range printed for all variables but rate of torque development.',
  },
  {
    key: 'ferri-morales-2014-isometric',
    source: FERRI_MORALES,
    joint: 'knee',
    movements: ['extension'],
    contractionModes: ['isometric'],
    velocitiesDegS: [0],
    measures: ['peakTorque'],
    scale: 'percent',
    sem: { low: 3.1, high: 7.4 },
    semImplied: false,
    mdcPrinted: { low: 8.6, high: 19.9 },
    iccForm: null,
    n: 40,
    population: FERRI_MORALES_SAMPLE,
    note: 'One range printed for all variables but rate of torque development.',
  },
  {
    key: 'ferri-morales-2014-rtd',
    source: FERRI_MORALES,
    joint: 'knee',
    movements: ['extension'],
    contractionModes: ['isometric'],
    velocitiesDegS: [0],
    measures: ['rateOfTorqueDevelopment'],
    scale: 'percent',
    sem: { low: 16.4, high: 16.4 },
    semImplied: false,
    mdcPrinted: { low: 47.5, high: 47.5 },
    iccForm: null,
    n: 40,
    population: FERRI_MORALES_SAMPLE,
    note: 'First 100 ms. The printed change (47.5) is larger than 1.96 * sqrt 2 * the printed SEM (45.5).',
  },
  {
    key: 'mccleary-1992-extension',
    source: 'McCleary & Andersen 1992 J Athl Train 27:362-5',
    joint: 'knee',
    movements: ['extension'],
    contractionModes: ['isokinetic_concentric'],
    velocitiesDegS: null,
    measures: ['peakTorque'],
    scale: 'absolute',
    sem: { low: 7 * LBF_FT_IN_NM, high: 7 * LBF_FT_IN_NM },
    semImplied: false,
    mdcPrinted: null,
    iccForm: null,
    n: 26,
    population: {
      limbCondition: 'no_history',
      sex: 'male',
      ageYears: YOUNG_ADULTS,
      description: 'uninjured male collegiate athletes, age 19.5 (SD 4.1), reciprocal test on three days',
    },
    note: 'Printed 7.0 lbf.ft. The first day differed from the other two: familiarise before a baseline.',
  },
  {
    key: 'mccleary-1992-flexion',
    source: 'McCleary & Andersen 1992 J Athl Train 27:362-5',
    joint: 'knee',
    movements: ['flexion'],
    contractionModes: ['isokinetic_concentric'],
    velocitiesDegS: null,
    measures: ['peakTorque'],
    scale: 'absolute',
    sem: { low: 3 * LBF_FT_IN_NM, high: 3 * LBF_FT_IN_NM },
    semImplied: false,
    mdcPrinted: null,
    iccForm: null,
    n: 26,
    population: {
      limbCondition: 'no_history',
      sex: 'male',
      ageYears: YOUNG_ADULTS,
      description: 'uninjured male collegiate athletes, age 19.5 (SD 4.1), reciprocal test on three days',
    },
    note: 'Printed 3.0 lbf.ft.',
  },
  {
    key: 'bmc-2023-extension',
    source: 'BMC Sports Sci Med Rehabil 2023 15:171, doi 10.1186/s13102-023-00788-z',
    joint: 'knee',
    movements: ['extension'],
    contractionModes: ['isokinetic_concentric'],
    velocitiesDegS: [30, 400],
    measures: ['peakTorque'],
    scale: 'absolute',
    sem: { low: 7.6, high: 10.5 },
    semImplied: false,
    mdcPrinted: null,
    iccForm: null,
    n: 30,
    population: {
      limbCondition: 'no_history',
      sex: 'not_stated',
      ageYears: null,
      description: '30 volunteers, second against third session, after familiarisation',
    },
    note: 'ICC .964 to .988. Concentric is our reading of "isokinetic exercise".',
  },
  {
    key: 'bmc-2023-isometric',
    source: 'BMC Sports Sci Med Rehabil 2023 15:171, doi 10.1186/s13102-023-00788-z',
    joint: 'knee',
    movements: ['extension'],
    contractionModes: ['isometric'],
    velocitiesDegS: [0],
    measures: ['peakTorque'],
    scale: 'absolute',
    sem: { low: 7.6, high: 10.5 },
    semImplied: false,
    mdcPrinted: null,
    iccForm: null,
    n: 30,
    population: {
      limbCondition: 'no_history',
      sex: 'not_stated',
      ageYears: null,
      description: '30 volunteers, second against third session, after familiarisation',
    },
    note: 'At two knee angles.',
  },
  {
    key: 'knee-osteoarthritis-2007',
    source: 'Isokinet Exerc Sci 2007, women with knee osteoarthritis',
    joint: 'knee',
    movements: ['extension', 'flexion'],
    contractionModes: null,
    velocitiesDegS: [90, 120, 150],
    measures: ['peakTorque'],
    scale: 'percent',
    sem: { low: 14.4, high: 21.8 },
    semImplied: false,
    mdcPrinted: { low: 39.9, high: 59.6 },
    iccForm: null,
    n: 28,
    population: {
      limbCondition: 'osteoarthritis',
      sex: 'female',
      ageYears: null,
      description: '28 women with knee osteoarthritis, 90 to 150 deg/s',
    },
    note: 'Two to four times the error of healthy samples.',
  },
  {
    key: 'otten-2013',
    source: 'Otten 2013 Sports Health 5:137-42',
    joint: 'knee',
    movements: ['extension'],
    contractionModes: null,
    velocitiesDegS: null,
    measures: ['peakTorque'],
    scale: 'percent',
    sem: { low: 20.6 / (1.96 * Math.SQRT2), high: 20.6 / (1.96 * Math.SQRT2) },
    semImplied: true,
    mdcPrinted: { low: 20.6, high: 20.6 },
    iccForm: null,
    n: 10,
    population: {
      limbCondition: 'no_history',
      sex: 'male',
      ageYears: YOUNG_ADULTS,
      description: 'recreationally active adult men, fully strapped',
    },
    note: 'Smallest detectable difference, strapped.',
  },
  ...(['knee', 'ankle', 'hip'] as const).map((joint): PublishedError => ({
    key: `methods-protocols-2023-${joint}`,
    source: 'Methods Protoc 2023 6:26, doi 10.3390/mps6020026',
    joint,
    movements: {
      knee: ['extension', 'flexion'] as const,
      ankle: ['plantar_flexion', 'dorsiflexion', 'inversion', 'eversion'] as const,
      hip: ['abduction', 'adduction'] as const,
    }[joint],
    contractionModes: null,
    velocitiesDegS: null,
    measures: ['peakTorque'],
    scale: 'percent',
    sem: { low: 6.6, high: 19.5 },
    semImplied: false,
    mdcPrinted: null,
    iccForm: null,
    n: 19,
    population: {
      limbCondition: 'no_history',
      sex: 'not_stated',
      ageYears: null,
      description: 'physically active adults, retest after 7 to 14 days',
    },
    note: 'CV of the typical error, one range over all joints.',
  })),
]

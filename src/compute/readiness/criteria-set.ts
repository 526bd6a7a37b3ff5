import type { ContractionMode, Movement } from '../types.ts'

export type Comparator = '<' | '<=' | '>' | '>='
export type Sex = 'female' | 'male'

export interface Threshold {
  readonly value: number
  readonly unit: string
}
/** One threshold for everyone, or one per sex where the source publishes it so. */
export type CriterionThreshold = Threshold | { readonly bySex: Readonly<Record<Sex, Threshold>> }

/**
 * A strength test as a criterion names it. null: the source at hand does not say, so every such test of the latest session counts
 * and the least favourable one governs.
 */
export interface StrengthSeries {
  readonly movement: Movement
  readonly contractionMode: ContractionMode | null
  readonly velocityDegS: number | null
  readonly measure: string
  readonly statistic: string
}

interface CriterionBase {
  /** kebab-case, stable. */
  readonly key: string
  /** The camelCase name shown as `measure`. */
  readonly measure: string
  /** Days after which evidence no longer counts; null: no limit. */
  readonly maximumAgeDays: number | null
}

interface ComparedCriterion extends CriterionBase {
  readonly comparator: Comparator
  readonly threshold: CriterionThreshold
}

/** How far the two limbs' tests must be comparable for the criterion to be assessed. */
export type ComparabilityNeeded = 'comparable' | 'comparable_with_caution'

export type Criterion =
  | (ComparedCriterion & {
      /**
       * symmetry = 100 x involved / uninvolved; deficit = 100 - symmetry; pre_injury_capacity = 100 x involved now / uninvolved
       * before injury or operation. All in %, never clipped.
       */
      readonly kind: 'strength_symmetry'
      readonly expression: 'symmetry' | 'deficit' | 'pre_injury_capacity'
      readonly series: StrengthSeries
      readonly comparabilityNeeded: ComparabilityNeeded
    })
  | (ComparedCriterion & {
      /** 100 x numerator / denominator of the involved limb, in %; both gravity-corrected and from one session. */
      readonly kind: 'strength_ratio'
      readonly numerator: StrengthSeries
      readonly denominator: StrengthSeries
    })
  | (ComparedCriterion & {
      /** A value per body mass of the involved limb, N.m/kg. */
      readonly kind: 'normalised_torque'
      readonly series: StrengthSeries
    })
  | (ComparedCriterion & {
      /** As strength_symmetry, of a functional test; a test that is better when lower (a time) is turned round. */
      readonly kind: 'functional_symmetry'
      readonly expression: 'symmetry' | 'pre_injury_capacity'
      readonly test: string
      readonly betterWhen: 'higher' | 'lower'
    })
  | (ComparedCriterion & {
      /** A functional result by itself: a time, a count, an error score. */
      readonly kind: 'functional_value'
      readonly test: string
      readonly limb: 'involved' | 'none'
    })
  | (ComparedCriterion & {
      readonly kind: 'questionnaire_total'
      readonly questionnaire: string
      /** Form versions whose total means what the threshold means; null: any. */
      readonly formVersions: readonly string[] | null
    })
  | (ComparedCriterion & {
      /** Threshold in d, wk, mo or a; months and years by the calendar. */
      readonly kind: 'time_since_surgery'
    })
  | (CriterionBase & {
      readonly kind: 'clinician_observation'
      readonly comparator: 'is'
      readonly threshold: string
      readonly observation: string
      /** What is to be done when it is missing. */
      readonly needs: string
    })

/** Whom a set was published for; null: the source at hand does not say. */
export interface Population {
  readonly description: string
  readonly sex: Sex | null
  readonly sportLevels: readonly string[] | null
  readonly ageYears: { readonly from: number; readonly to: number } | null
}

export type DecisionRule = { readonly kind: 'all' } | { readonly kind: 'at_least'; readonly count: number }

export interface CriteriaSet {
  readonly key: string
  readonly version: number
  readonly title: string
  readonly citation: string
  readonly population: Population
  readonly rule: DecisionRule
  readonly criteria: readonly Criterion[]
  /** What the publication can and cannot tell. */
  readonly limits: string
  /** What in this encoding does not come from the text that was read. */
  readonly fromMemory: string
}

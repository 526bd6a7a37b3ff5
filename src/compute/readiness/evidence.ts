import type { ComparabilityVerdict } from '../comparability/index.ts'
import type { ContractionMode, Movement, Side } from '../types.ts'
import type { Sex } from './criteria-set.ts'

export interface EvidenceInterval {
  readonly low: number
  readonly high: number
  /** 0 to 1, e.g. 0.95. */
  readonly confidence: number
}

/** What one attempt gave: a number, or none and why (aborted, outside_load_range, refused_by_subject ...). */
export type Outcome =
  { readonly value: number; readonly unit: string } | { readonly value: null; readonly reason: string }

/** One limb's value of a strength measure. An attempt without a value is still an attempt and belongs here. */
export interface LimbValue {
  readonly resultId: string
  readonly outcome: Outcome
  /** "in_force", or the reason a value is kept out (held flag, entered in error ...): anything else than in_force is not assessed. */
  readonly standing: string
  readonly gravityCorrected: 'yes' | 'no' | 'unknown'
  /** Highest pain during the test, 0 to 10; null: not recorded. */
  readonly painDuring: number | null
}

/** One strength measure of one session, both sides; null where that side was not attempted. */
export interface StrengthEvidence {
  readonly sessionId: string
  /** ISO 8601 with offset. Its date as written is the date of the evidence. */
  readonly performedAt: string
  readonly movement: Movement
  readonly contractionMode: ContractionMode
  readonly velocityDegS: number
  readonly measure: string
  readonly statistic: string
  readonly left: LimbValue | null
  readonly right: LimbValue | null
  /** Verdict of comparing the two limbs' setups; null: not known. */
  readonly limbComparability: ComparabilityVerdict | null
  /** Interval of 100 x involved / uninvolved, %; null: no error model. */
  readonly symmetryInterval: EvidenceInterval | null
}

export interface FunctionalEvidence {
  readonly functionalResultId: string
  readonly sessionId: string
  readonly performedAt: string
  readonly test: string
  /** null for a test that has no side. */
  readonly side: Side | null
  readonly outcome: Outcome
  readonly standing: string
}

export interface QuestionnaireEvidence {
  readonly functionalResultId: string
  readonly performedAt: string
  readonly questionnaire: string
  readonly formVersion: string | null
  readonly outcome: Outcome
  readonly standing: string
}

export interface ObservationEvidence {
  readonly observationId: string
  readonly performedAt: string
  readonly observation: string
  /** The clinician's word, e.g. "completed", "not_completed"; null: asked and not answered. */
  readonly finding: string | null
  readonly standing: string
}

/** The other limb before injury or operation: the denominator of estimated pre-injury capacity. */
export interface PreInjuryReference {
  readonly resultId: string
  readonly side: Side
  /** Which measure it is of: the strength series or the functional test. */
  readonly of:
    | {
        readonly movement: Movement
        readonly contractionMode: ContractionMode
        readonly velocityDegS: number
        readonly measure: string
        readonly statistic: string
      }
    | { readonly test: string }
  readonly outcome: Outcome
  readonly standing: string
  /** Verdict against the involved limb's latest test; null: not known. Functional tests carry null. */
  readonly comparability: ComparabilityVerdict | null
}

/** Everything an evaluation may look at. Order does not matter; what is later than the date evaluated is not looked at. */
export interface Evidence {
  readonly strength: readonly StrengthEvidence[]
  readonly functional: readonly FunctionalEvidence[]
  readonly questionnaires: readonly QuestionnaireEvidence[]
  readonly observations: readonly ObservationEvidence[]
  readonly preInjury: readonly PreInjuryReference[]
}

export interface EvaluationContext {
  /** Date evaluated, YYYY-MM-DD. */
  readonly on: string
  readonly involvedSide: Side | 'bilateral' | null
  /** What is known of the other limb: it is the denominator of every symmetry. */
  readonly otherLimb: 'no_history' | 'history' | 'graft_donor' | 'unknown'
  readonly sex: Sex | null
  readonly ageYears: number | null
  readonly sportLevel: string | null
  /** YYYY-MM-DD; null: none or not known. */
  readonly surgeryOn: string | null
}

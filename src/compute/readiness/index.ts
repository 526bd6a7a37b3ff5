export type {
  Comparator,
  CriteriaSet,
  Criterion,
  CriterionThreshold,
  DecisionRule,
  Population,
  StrengthSeries,
  Threshold,
} from './criteria-set.ts'
export type {
  Evidence,
  EvaluationContext,
  EvidenceInterval,
  FunctionalEvidence,
  LimbValue,
  ObservationEvidence,
  Outcome,
  PreInjuryReference,
  QuestionnaireEvidence,
  StrengthEvidence,
} from './evidence.ts'
export { meetsThreshold } from './compare-threshold.ts'
export { checkCriteriaSet } from './check-criteria-set.ts'
export { evaluateCriteriaSet, inReadingOrder } from './evaluate-criteria-set.ts'
export type { CriteriaSetAnswer, CriterionAnswer, CriterionVerdict, OverallVerdict } from './evaluate-criteria-set.ts'
export type { EvidenceReference, NumberOrReason } from './find-evidence.ts'
export { matchPopulation } from './match-population.ts'
export type { PopulationMatch } from './match-population.ts'
export { PUBLISHED_CRITERIA_SETS, PUBLISHED_CRITERIA_VERSION } from './published-criteria-sets.ts'
export { ikdcTotal, ikdcTotalOfAnswered, kosAdlsTotal, pediatricIkdcTotal } from './questionnaire-totals.ts'

import type { Population } from './criteria-set.ts'
import type { EvaluationContext } from './evidence.ts'

export interface PopulationMatch {
  readonly description: string
  readonly matches: 'yes' | 'no' | 'unknown'
  /** A sentence where it is not a plain yes; null otherwise. */
  readonly note: string | null
}

const published = { male: 'men', female: 'women' } as const

/**
 * Population match: whether a criteria set was published for people like this subject.
 *
 * "no" as soon as one stated trait differs; "unknown" where the publication at hand states no trait, or a stated trait of the subject
 * is not recorded; "yes" only where every stated trait is known to agree. Changes no verdict: it is said beside every answer.
 * What for: a set says nothing about people it was not studied in. Units: years. Errors: none. Source: the population
 * each set states.
 * Limits: sex, age and level of sport only, as far as both sides state them.
 *
 * @example matchPopulation(kyritsis2016.population, { ...context, sex: 'female' }).note
 * // 'Published for men; this subject is female.'
 */
export function matchPopulation(
  population: Population,
  subject: Pick<EvaluationContext, 'sex' | 'ageYears' | 'sportLevel'>,
): PopulationMatch {
  const differs: string[] = []
  const unrecorded: string[] = []
  if (population.sex !== null) {
    if (subject.sex === null) unrecorded.push('sex')
    else if (subject.sex !== population.sex) {
      differs.push(`Published for ${published[population.sex]}; this subject is ${subject.sex}.`)
    }
  }
  if (population.sportLevels !== null) {
    if (subject.sportLevel === null) unrecorded.push('level of sport')
    else if (!population.sportLevels.includes(subject.sportLevel)) {
      differs.push(
        `Published for the level ${population.sportLevels.join(' or ')}; this subject's is ${subject.sportLevel}.`,
      )
    }
  }
  if (population.ageYears !== null) {
    const { from, to } = population.ageYears
    if (subject.ageYears === null) unrecorded.push('age')
    else if (subject.ageYears < from || subject.ageYears > to) {
      differs.push(`Published for ages ${from} to ${to}; this subject is ${subject.ageYears}.`)
    }
  }
  const { description } = population
  if (differs.length > 0) return { description, matches: 'no', note: differs.join(' ') }
  if (unrecorded.length > 0) {
    return { description, matches: 'unknown', note: `Not recorded for this subject: ${unrecorded.join(', ')}.` }
  }
  if (population.sex === null && population.sportLevels === null && population.ageYears === null) {
    return {
      description,
      matches: 'unknown',
      note: `Published for ${description}; whether this subject is like them is for the clinician to judge.`,
    }
  }
  return { description, matches: 'yes', note: null }
}

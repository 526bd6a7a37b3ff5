import type { ErrorScope } from './error-model.ts'

/**
 * Errors of a clinic that speak of a test, the narrowest first: of its operator on its machine, of its operator, of its machine,
 * of the whole clinic. What is asked of several tests at once names an operator or a machine only where all of them share it.
 *
 * What for: an error found by one pair of hands says nothing of another's, and where it is known it is nearer the truth than
 * the clinic's average. Conventions: errors come newest first and stay so within one scope; an unknown operator or machine (null)
 * is nobody's, so only an error of everybody speaks of it. Units: none. Errors: none. Source: engineering choice, no source; that
 * testers differ is common knowledge of the trade. Limits: order only; whether an error rests on pairs enough and fits the limb
 * is `chooseErrorModel`'s to say.
 *
 * @example narrowestFirst([{ operatorId: null, dynamometerId: null }, { operatorId: 'a', dynamometerId: null }],
 *   { operatorId: 'a', dynamometerId: 'x' })[0] // { operatorId: 'a', dynamometerId: null }
 */
export function narrowestFirst<T extends ErrorScope>(errors: readonly T[], test: ErrorScope): readonly T[] {
  const speaksOf = (error: ErrorScope): boolean =>
    (error.operatorId === null || error.operatorId === test.operatorId) &&
    (error.dynamometerId === null || error.dynamometerId === test.dynamometerId)
  // The sort keeps the order of equals
  return errors.filter(speaksOf).sort((a, b) => narrowness(b) - narrowness(a))
}

function narrowness({ operatorId, dynamometerId }: ErrorScope): number {
  return (operatorId === null ? 0 : 2) + (dynamometerId === null ? 0 : 1)
}

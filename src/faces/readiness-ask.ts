import type { z } from 'zod'
import { AppError } from '../domain/errors.ts'
import type { readinessQuery } from './shapes/queries.ts'

/** A readiness query in the words of the use cases. */
export function readinessAsk({ criteriaSet, criteriaSetVersion, on, asKnownAt }: z.output<typeof readinessQuery>) {
  if (criteriaSet === undefined && criteriaSetVersion !== undefined) {
    throw new AppError('invalid_query', {
      detail: 'A criteriaSetVersion is asked for, and of no set.',
      faults: [{ pointer: '#/query/criteriaSet', code: 'missing', message: 'A version is of a set: name the set as well.' }], // prettier-ignore
    })
  }
  return {
    criteriaSet: criteriaSet === undefined ? null : { key: criteriaSet, version: criteriaSetVersion ?? null },
    on: on ?? null,
    asKnownAt: asKnownAt === undefined ? null : new Date(asKnownAt),
  }
}

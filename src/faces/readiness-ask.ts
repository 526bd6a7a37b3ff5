import type { z } from 'zod'
import type { readinessQuery } from './shapes/queries.ts'

/** A readiness query in the words of the use cases. */
export function readinessAsk({ criteriaSet, criteriaSetVersion, on, asKnownAt }: z.output<typeof readinessQuery>) {
  return {
    criteriaSet: criteriaSet === undefined ? null : { key: criteriaSet, version: criteriaSetVersion ?? null },
    on: on ?? null,
    asKnownAt: asKnownAt === undefined ? null : new Date(asKnownAt),
  }
}

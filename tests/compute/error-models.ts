import type { ErrorScale, KnownErrorModel } from '../../src/compute/index.ts'

/** A published error whose SEM is taken as known. */
export function knownError(sem: number, scale: ErrorScale = 'absolute'): KnownErrorModel {
  return {
    kind: 'published',
    scale,
    sem,
    mdc: 0,
    confidence: 0.95,
    degreesOfFreedom: null,
    n: 30,
    source: 'test',
    cautions: [],
  }
}

/** A clinic's own error, estimated with so many degrees of freedom. */
export function estimatedError(sem: number, degreesOfFreedom: number, scale: ErrorScale = 'absolute'): KnownErrorModel {
  return { ...knownError(sem, scale), kind: 'clinic_test_retest', degreesOfFreedom, n: degreesOfFreedom }
}

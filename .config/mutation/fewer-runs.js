import * as fc from 'fast-check'

/** A fifth of the runs while mutants run, and no search for the smallest example, which nobody reads. */
const assert = (property, options) =>
  fc.assert(property, { ...options, numRuns: Math.ceil(options.numRuns / 5), endOnFailure: true })

export default { ...fc, assert }

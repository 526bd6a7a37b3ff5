import { createHash } from 'node:crypto'
import { describe, expect, it } from 'vitest'
import {
  ASYMMETRY_EQUATIONS,
  COMPARABILITY_RULES_VERSION,
  COMPUTE_VERSION,
  DE_LEVA,
  DEFAULT_COMPARABILITY_RULES,
  DEFAULT_PARAMETERS,
  DEMPSTER_WINTER,
  PUBLISHED_CRITERIA_SETS,
  PUBLISHED_CRITERIA_VERSION,
  PUBLISHED_ERRORS,
  REFERENCE_DATA_VERSION,
  UNIT_TABLE,
} from '../../src/compute/index.ts'

/**
 * The tables that verdicts lean on, bound to their versions: a stored verdict names a version, so a table may not change under it.
 * After a change on purpose raise the version and put the new pair here.
 */
const fingerprint = (table: unknown): string =>
  createHash('sha256').update(JSON.stringify(table)).digest('hex').slice(0, 16)

describe('data that verdicts lean on do not change without their version', () => {
  it.each([
    [
      'comparability rules',
      DEFAULT_COMPARABILITY_RULES,
      COMPARABILITY_RULES_VERSION,
      ['2026-11.3', '6cb1bd5df7e1132c'],
    ],
    ['criteria sets', PUBLISHED_CRITERIA_SETS, PUBLISHED_CRITERIA_VERSION, ['2026-11.1', '1007ec2215ece98a']],
    ['published errors', PUBLISHED_ERRORS, REFERENCE_DATA_VERSION, ['2026.1', '4d8199672644e836']],
    ['default parameters', DEFAULT_PARAMETERS, COMPUTE_VERSION, ['1.0.0', 'f140ff6947302abf']],
    ['segment tables', [DEMPSTER_WINTER, DE_LEVA], COMPUTE_VERSION, ['1.0.0', '6009baeef9733d68']],
    ['units', UNIT_TABLE, COMPUTE_VERSION, ['1.0.0', 'f5c23bb5b5192528']],
    ['asymmetry equations', ASYMMETRY_EQUATIONS, COMPUTE_VERSION, ['1.0.0', 'ac424f524aa6471a']],
  ] as const)('%s', (_name, table, version, pinned) => {
    expect([version, fingerprint(table)]).toEqual(pinned)
  })
})

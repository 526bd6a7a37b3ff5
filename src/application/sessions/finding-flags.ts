import { v7 as uuidv7 } from 'uuid'
import type { Finding } from '../../compute/index.ts'
import type { FlagWrite } from '../../store/flag-store.ts'

export interface Flagged {
  readonly subjectId: string
  readonly sessionId: string
  readonly pointer: string
  /** The results a finding may speak of; none: the setup or the whole session. */
  readonly results: readonly { readonly id: string; readonly movement: string }[]
}

/** What a flag of each level does to the value it speaks of. */
export const EFFECTS = {
  hold: 'Stored; kept out of trends, symmetry and readiness until a clinician resolves it.',
  caution: 'Stored; read with caution.',
  note: 'For information.',
} as const

/** What compute found about one movement says nothing of the other movement of the set. */
export function speaksOf(finding: Pick<Finding, 'movement'>, movement: string | undefined): boolean {
  return finding.movement === undefined || finding.movement === movement
}

/** What compute found, on the work list: one flag for each result it speaks of. */
export function findingFlags(findings: readonly Finding[], flagged: Flagged): FlagWrite[] {
  const { results } = flagged
  return findings.flatMap((finding) => {
    const spokenOf = results.filter(({ movement }) => speaksOf(finding, movement)).map(({ id }) => id)
    const targets = results.length === 0 ? [null] : spokenOf
    return targets.map((resultId) => ({
      id: uuidv7(),
      subjectId: flagged.subjectId,
      sessionId: flagged.sessionId,
      resultId,
      code: finding.code,
      level: finding.level,
      pointer: flagged.pointer,
      message: finding.detail,
      effect: EFFECTS[finding.level],
      evidence: {},
    }))
  })
}

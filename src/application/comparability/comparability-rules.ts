/** The table by which tests are compared, and a clinic's own limits in it: every version stays readable in the log of edits. */
import { applyOverrides, COMPARABILITY_RULES_VERSION, DEFAULT_COMPARABILITY_RULES } from '../../compute/index.ts'
import type { ComparabilityOverridesDocument } from '../../domain/comparability-overrides-document.ts'
import { documentError, type FieldFault } from '../../domain/errors.ts'
import type { LazyDocument } from '../../domain/parsed.ts'
import {
  insertComparabilityOverrides,
  loadComparabilityOverrides,
  lockComparabilityOverrides,
  type ComparabilityOverridesRow,
} from '../../store/comparability-overrides-store.ts'
import type { Context } from '../context.ts'
import { asOverrides } from '../judgement/rules-in-force.ts'
import { perform } from '../perform.ts'
import { requireVersion } from '../shared/versions.ts'

export async function readComparabilityRules(ctx: Context, input: { asKnownAt: Date | null }) {
  return perform(ctx, 'comparability-rules.read', async (tx) =>
    represent(await loadComparabilityOverrides(tx, input.asKnownAt ?? ctx.now)),
  )
}

export async function editComparabilityRules(
  ctx: Context,
  input: { ifMatch: string | undefined; document: LazyDocument<ComparabilityOverridesDocument> },
) {
  return perform(ctx, 'comparability-rules.edit', async (tx, trace) => {
    const current = await lockComparabilityOverrides(tx)
    requireVersion(input.ifMatch, current)
    const { sent, value } = input.document()
    const faults = overrideFaults(value)
    if (faults.length > 0) throw documentError(faults)
    const row = {
      version: current + 1,
      document: sent,
      recordedBy: ctx.actor.principalId,
      recordedAt: ctx.now,
    }
    await insertComparabilityOverrides(tx, row)
    trace.detail('version', row.version)
    return represent(row)
  })
}

const REFUSED = {
  unknown_rule: 'There is no rule of this id.',
  limit_not_usable: 'A limit is a number of 0 or more.',
  looser_without_reason: 'This is looser than the default somewhere: a reason on record is needed.',
} as const

function overrideFaults({ overrides }: ComparabilityOverridesDocument): FieldFault[] {
  const seen = new Set<string>()
  return overrides.flatMap((override, index) => {
    const at = `#/overrides/${index}`
    if (seen.has(override.ruleId)) {
      return [{ pointer: `${at}/ruleId`, code: 'not_unique', message: 'This occurs twice in the list.' }]
    }
    seen.add(override.ruleId)
    const { refused } = applyOverrides(DEFAULT_COMPARABILITY_RULES, asOverrides([override]))
    return refused.map(({ why }) => ({
      pointer: why === 'unknown_rule' ? `${at}/ruleId` : why === 'limit_not_usable' ? `${at}/limits` : `${at}/reason`,
      code: why,
      message: REFUSED[why],
    }))
  })
}

function represent(row: ComparabilityOverridesRow | null) {
  const { overrides } = (row?.document ?? { overrides: [] }) as ComparabilityOverridesDocument
  const { rules } = applyOverrides(DEFAULT_COMPARABILITY_RULES, asOverrides(overrides))
  return {
    version: row?.version ?? 0,
    tableVersion: COMPARABILITY_RULES_VERSION,
    recordedAt: row?.recordedAt.toISOString() ?? null,
    recordedBy: row?.recordedBy ?? null,
    rules: rules.map(({ id, factor, unit, limits, unknown, source }) => ({
      id,
      factor,
      unit,
      limits,
      ...(unknown === undefined ? {} : { unknown }),
      source,
      overridden: overrides.some(({ ruleId }) => ruleId === id) ? ('yes' as const) : ('no' as const),
    })),
    overrides,
  }
}

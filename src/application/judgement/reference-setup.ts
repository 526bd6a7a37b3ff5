/**
 * A test against the pinned setup of its limb on its machine: the setup alone. What was said, shown and felt on the day is not
 * part of a setup, so both sides of the comparison carry the facts of today's test there.
 */
import {
  COMPARED_MEASURES,
  compareFacts,
  type Comparability,
  type ComparabilityFacts,
  type ComparabilityRule,
  type ComparedMeasure,
  type Movement,
} from '../../compute/index.ts'
import { dynamometerOnRecord, type DynamometerDescription } from '../../domain/dynamometer-document.ts'
import { setupDocument, type SetupDocument } from '../../domain/session-document.ts'
import { parseSeriesKey } from '../../domain/series.ts'
import { loadDescription } from '../../store/dynamometer-store.ts'
import type { JudgedResultRow } from '../../store/result-store.ts'
import type { RecordedSetup, ReferenceSetupRow } from '../../store/setup-store.ts'
import type { ClinicTx } from '../../tenancy/with-clinic.ts'
import type { PreparedSetup } from '../prepare-session/prepared-session.ts'
import { hasMeasure } from './compare-results.ts'
import { factsOf } from './facts.ts'
import { setupFacts, type SetupFacts } from './setup-facts.ts'

/** A setup read back, with the description it was recorded under. */
export interface ReadSetup {
  readonly row: RecordedSetup
  readonly setup: SetupDocument
  readonly description: DynamometerDescription | null
}

export async function readRecordedSetup(tx: ClinicTx, row: RecordedSetup): Promise<ReadSetup> {
  const described =
    row.dynamometerId === null ? null : await loadDescription(tx, row.dynamometerId, row.descriptionVersion)
  return {
    row,
    setup: setupDocument.parse(row.document),
    description: described === null ? null : dynamometerOnRecord.parse(described.document),
  }
}

export type SetupComparisonFacts = SetupFacts & Pick<ComparabilityFacts, 'gravityCorrected'>

/** `gravityCorrected` is yes where a weighing stands, unknown where none does: values may have come corrected. */
export function factsOfSetup({ row, setup, description }: ReadSetup, movement: Movement): SetupComparisonFacts {
  const { dynamometerId, descriptionVersion } = row
  const { axisOffset } = row.findings as PreparedSetup
  return {
    ...setupFacts(setup, movement, axisOffset, { dynamometerId, description, descriptionVersion }),
    gravityCorrected: row.gravityMomentNm === null ? null : 'yes',
  }
}

export interface PinnedSetup extends ReadSetup {
  readonly reference: ReferenceSetupRow
}

/** Each measure of a result that has a value, with its own reasons. */
export function compareWithReference(
  pinned: PinnedSetup,
  now: JudgedResultRow,
  rules: readonly ComparabilityRule[],
): (Comparability & { readonly measure: ComparedMeasure })[] {
  const reference = factsOfSetup(pinned, parseSeriesKey(now.series).movement)
  return COMPARED_MEASURES.filter((measure) => hasMeasure(now, measure)).map((measure) => {
    const facts = factsOf(now, measure)
    return { measure, ...compareSetups(reference, facts, measure, rules) }
  })
}

/** `now` in the place of everything that is not the setup. */
export function compareSetups(
  reference: SetupComparisonFacts,
  now: ComparabilityFacts,
  measure: ComparedMeasure,
  rules: readonly ComparabilityRule[],
): Comparability {
  const before = { ...now, ...reference, gravityCorrected: reference.gravityCorrected ?? now.gravityCorrected }
  return compareFacts(before, now, measure, rules.filter(speaksOfSetup))
}

/** The rules that read a fact of the setup. */
function speaksOfSetup({ compares }: ComparabilityRule): boolean {
  switch (compares.kind) {
    case 'dynamometer':
    case 'thigh_strap':
    case 'stops':
    case 'anatomical_zero':
    case 'axis':
    case 'setting':
      return true
    case 'word':
    case 'number':
      return (SETUP_FACTS as readonly string[]).includes(compares.fact)
    case 'percent':
    case 'clock':
    case 'familiarisation':
    case 'short_rest':
    case 'pain_above':
    case 'statistic':
      return false
  }
}

const SETUP_FACTS = [
  'joint',
  'side',
  'attachment',
  'padMountedOn',
  'bodyPosition',
  'trunkStraps',
  'otherLimbStabiliser',
  'lumbarSupport',
  'hands',
  'gravityCorrected',
  'descriptionVersion',
  'leverArmMm',
] as const

/**
 * What decides whether two tests may be compared, split in two for storage: what a clinic repeats from visit to visit
 * (one row a distinct combination) and what belongs to the visit. Unknown stays null and is never taken for "none".
 */
import {
  MEASURE_REVISION,
  type ComparabilityFacts,
  type DirectionProtocol,
  type MeasureName,
  type Side,
} from '../../compute/index.ts'
import type { JudgedResultRow } from '../../store/result-store.ts'
import type { PreparedDocument, PreparedSet, PreparedSetup } from '../prepare-session/prepared-session.ts'
import { recorded, setupFacts, type DynamometerContext } from './setup-facts.ts'

type VisitFact =
  | 'startMinuteOfDay'
  | 'operator'
  | 'limbOrder'
  | 'velocityOrder'
  | 'warmUp'
  | 'analgesics'
  | 'painDuring'
  | 'bodyMassKg'
  | 'familiarisation'
  | 'verbalEncouragement'
  | 'visualFeedback'

export type VisitFacts = Pick<ComparabilityFacts, VisitFact> & {
  /** Shown beside a test, and no part of a comparison. */
  readonly effusion?: readonly Effusion[]
}

interface Effusion {
  readonly joint: string
  readonly side: Side
  readonly before: string
  readonly after?: string | undefined
}

/** Without side, so that both limbs share a row; processing by measure, so that a release does not split every trend. */
export type KeyFacts = Omit<ComparabilityFacts, VisitFact | 'side' | 'processingKey'> & {
  readonly processing: { readonly paramsHash: string; readonly revisions: Readonly<Record<string, number>> } | null
}

export interface VisitContext {
  readonly operatorId: string | null
  readonly timeZone: string
}

export interface SetContext extends DynamometerContext {
  readonly paramsHash: string
}

export function visitFacts(document: PreparedDocument, context: VisitContext): VisitFacts {
  const { conditions, screening } = document
  const pain = [screening?.pain?.during, screening?.pain?.before].map((p) => p?.canonicalValue ?? null)
  return {
    startMinuteOfDay: minuteOfDay(document.startedAt, context.timeZone),
    operator: context.operatorId,
    limbOrder: recorded(conditions?.limbOrder),
    velocityOrder: velocityOrder(document),
    warmUp: recorded(conditions?.warmUp?.activity),
    analgesics: analgesicsTaken(screening),
    painDuring: pain[0] ?? null,
    bodyMassKg: document.bodyMass?.canonicalValue ?? null,
    familiarisation: recorded(conditions?.familiarisation) as VisitFacts['familiarisation'],
    verbalEncouragement: recorded(conditions?.verbalEncouragement),
    visualFeedback: recorded(conditions?.visualFeedback),
    effusion: screening?.effusion ?? [],
  }
}

export function keyFacts(
  document: PreparedDocument,
  prepared: PreparedSet,
  direction: DirectionProtocol,
  preparedSetup: PreparedSetup,
  context: SetContext,
): KeyFacts {
  const setup = found(document.setups.find((s) => s.key === prepared.setupKey))
  const set = found(document.sets.find((s) => s.key === prepared.key))
  const processed = set.recording ?? set.reported
  return {
    ...setupFacts(setup, direction.movement, preparedSetup.axisOffset, context),
    movement: direction.movement,
    contractionMode: direction.contractionMode,
    contractionScheme: set.contractionScheme,
    velocityDegS: direction.velocityDegS,
    intendedRepetitions: set.intendedRepetitions ?? null,
    gravityCorrected: known(
      prepared.origin === 'computed' ? prepared.analysis.gravityCorrected : prepared.gravityCorrected,
    ),
    deviceFilter: known(processed?.deviceFilter),
    deviceWindowing: known(processed?.deviceWindowing),
    processing: prepared.origin === 'computed' ? { paramsHash: context.paramsHash, revisions: MEASURE_REVISION } : null,
    restBeforeS: set.restBefore?.canonicalValue ?? null,
  }
}

/** A stored result as compute judges it, for one measure. */
export function factsOf(row: JudgedResultRow, measure: string): ComparabilityFacts {
  const { processing, ...key } = row.keyFacts as KeyFacts
  const { effusion: _, ...visit } = row.visitFacts as VisitFacts
  const revision = processing?.revisions[measure as MeasureName] ?? 1
  return {
    ...key,
    ...visit,
    // Visits stored before it was a fact do not have it
    analgesics: visit.analgesics ?? null,
    side: row.side,
    processingKey: processing === null ? null : `${processing.paramsHash}:${revision}`,
  }
}

/** Asked for each limb; what was taken for one works on both. */
function analgesicsTaken(screening: PreparedDocument['screening']): VisitFacts['analgesics'] {
  const answers = (screening?.answers ?? []).filter(({ question }) => question === 'analgesics_taken')
  if (answers.some(({ answer }) => answer === 'yes')) return 'yes'
  return answers.length > 0 && answers.every(({ answer }) => answer === 'no') ? 'no' : null
}

function known<T extends string>(word: T | 'unknown' | undefined): Exclude<T, 'unknown'> | null {
  return word === undefined || word === 'unknown' ? null : (word as Exclude<T, 'unknown'>)
}

function found<T>(value: T | undefined): T {
  if (value === undefined) throw new RangeError('a prepared set without its document')
  return value
}

/** Wall clock of the clinic, whatever offset the sender wrote. */
function minuteOfDay(startedAt: string, timeZone: string): number {
  const parts = new Intl.DateTimeFormat('en-GB', { timeZone, hour: '2-digit', minute: '2-digit', hourCycle: 'h23' })
    .formatToParts(new Date(startedAt))
    .map((part) => Number(part.value))
    .filter((value) => Number.isFinite(value))
  return (parts[0] ?? 0) * 60 + (parts[1] ?? 0)
}

/** ascending, descending or mixed, over the sets of one limb in the order performed. */
function velocityOrder(document: PreparedDocument): string | null {
  const side = document.setups.find((s) => s.key === document.sets[0]?.setup)?.side
  const velocities = document.sets
    .filter((set) => document.setups.find((s) => s.key === set.setup)?.side === side)
    .map((set) => set.directions[0]?.velocity.canonicalValue ?? 0)
  if (velocities.length === 0) return null
  const rises = velocities.slice(1).map((v, i) => v - (velocities[i] ?? 0))
  if (rises.every((rise) => rise === 0)) return 'one_velocity'
  if (rises.every((rise) => rise >= 0)) return 'ascending'
  return rises.every((rise) => rise <= 0) ? 'descending' : 'mixed'
}

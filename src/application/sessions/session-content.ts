/** A prepared session and its place to the rows that are written: pure, so that a dry run and a push can't differ. */
import { createHash } from 'node:crypto'
import { v7 as uuidv7 } from 'uuid'
import { canonicalParameters, COMPUTE_VERSION } from '../../compute/index.ts'
import { canonicalSha256 } from '../../domain/canonical-json.ts'
import { seriesKey } from '../../domain/series.ts'
import type { FlagWrite } from '../../store/flag-store.ts'
import type { RecordingWrite } from '../../store/recording-store.ts'
import type { AnalysisWrite, KeyWrite, ResultWrite } from '../../store/result-store.ts'
import type { FunctionalResultWrite, SessionWrite, SetupWrite, TestSetWrite } from '../../store/session-store.ts'
import type { Context } from '../context.ts'
import { keyFacts, visitFacts } from '../judgement/facts.ts'
import { describeSetups } from '../prepare-session/setup-findings.ts'
import type { PreparedSession, PreparedSet, PreparedSetup } from '../prepare-session/prepared-session.ts'
import { hotColumns, measuresDocument } from '../results/measures-document.ts'
import { methodDocument } from '../results/method-document.ts'
import { findingFlags, type Flagged } from './finding-flags.ts'
import { functionalWrites } from './functional-writes.ts'
import type { SessionPlace } from './resolve-place.ts'

export interface SessionContent {
  readonly session: SessionWrite
  readonly recordings: readonly RecordingWrite[]
  readonly setups: readonly SetupWrite[]
  readonly sets: readonly TestSetWrite[]
  readonly keys: readonly KeyWrite[]
  readonly analyses: readonly AnalysisWrite[]
  readonly results: readonly ResultWrite[]
  readonly functionalResults: readonly FunctionalResultWrite[]
  readonly flags: readonly FlagWrite[]
}

export interface VersionPlace {
  readonly sessionId: string
  readonly version: number
  readonly kind: 'pushed' | 'amended'
  readonly reason: string | null
}

export function sessionContent(
  ctx: Context,
  prepared: PreparedSession,
  place: SessionPlace,
  version: VersionPlace,
): SessionContent {
  const { document } = prepared
  const { sex, heightM } = place.subject
  const setups = describeSetups(document, { sex: sex === 'unknown' ? null : sex, heightM })
  const setupIds = new Map(setups.map((setup) => [setup.key, uuidv7()]))
  const builder = new SetRows(prepared, place, version, setups, setupIds)
  prepared.sets.forEach((set, index) => builder.add(set, index))
  return {
    session: {
      ...version,
      subjectId: place.subject.id,
      episodeId: place.episode?.id ?? null,
      dynamometerId: place.dynamometerId,
      descriptionVersion: place.descriptionVersion,
      operatorId: place.operatorId,
      testedAt: new Date(document.startedAt),
      startedAt: document.startedAt,
      bodyMassKg: document.bodyMass?.canonicalValue ?? null,
      document: prepared.pushed,
      docHash: hexBytes(prepared.documentHash),
      visitFacts: visitFacts(document, { operatorId: place.operatorId, timeZone: ctx.actor.timeZone }),
      recordedBy: ctx.actor.principalId,
      recordedAt: ctx.now,
    },
    recordings: prepared.recordings.map((recording) => ({
      sha256: hexBytes(recording.sha256),
      header: recording.header,
      bytes: new Uint8Array(recording.bytes),
      sampleCount: recording.sampleCount,
      sampleRateHz: recording.sampleRateHz,
    })),
    setups: setups.map((setup, index) => ({
      id: idOf(setupIds, setup.key),
      key: setup.key,
      joint: document.setups[index]?.joint ?? '',
      side: setup.side,
      document: (prepared.pushed['setups'] as unknown[])[index],
      findings: setup,
      gravityMomentNm: setup.gravityMomentNm.value,
    })),
    sets: builder.sets,
    keys: [...builder.keys.values()],
    analyses: builder.analyses,
    results: builder.results,
    functionalResults: functionalWrites(prepared, place.subject.id),
    flags: [...builder.flags, ...setups.flatMap((setup, index) => setupFlags(setup, index, place, version))],
  }
}

/** Rows of the sets, collected in the order performed. */
class SetRows {
  readonly sets: TestSetWrite[] = []
  readonly analyses: AnalysisWrite[] = []
  readonly results: ResultWrite[] = []
  readonly keys = new Map<string, KeyWrite>()
  readonly flags: FlagWrite[] = []
  readonly #prepared: PreparedSession
  readonly #place: SessionPlace
  readonly #version: VersionPlace
  readonly #setups: readonly PreparedSetup[]
  readonly #setupIds: ReadonlyMap<string, string>

  constructor(
    prepared: PreparedSession,
    place: SessionPlace,
    version: VersionPlace,
    setups: readonly PreparedSetup[],
    setupIds: ReadonlyMap<string, string>,
  ) {
    this.#prepared = prepared
    this.#place = place
    this.#version = version
    this.#setups = setups
    this.#setupIds = setupIds
  }

  add(set: PreparedSet, index: number): void {
    const setId = uuidv7()
    const analysisId = uuidv7()
    const { document } = this.#prepared
    const params = set.protocol.parameters
    const paramsHash = createHash('sha256').update(canonicalParameters(params)).digest()
    this.sets.push({
      id: setId,
      setupId: idOf(this.#setupIds, set.setupKey),
      key: set.key,
      ordinal: index,
      side: set.side,
      recordingSha: set.recordingSha256 === null ? null : hexBytes(set.recordingSha256),
      reported: set.origin === 'reported' ? (document.sets[index]?.reported ?? {}) : null,
    })
    this.analyses.push({
      id: analysisId,
      setId,
      computeVersion: COMPUTE_VERSION,
      paramsHash: new Uint8Array(paramsHash),
      params,
      method: methodOf(set),
      findings: set.findings,
    })
    const results = set.directions.map((direction) => {
      const id = uuidv7()
      const setup = this.#setups.find((s) => s.key === set.setupKey)
      if (setup === undefined) throw new RangeError('a set without its setup')
      const facts = keyFacts(document, set, direction, setup, {
        dynamometerId: this.#place.dynamometerId,
        description: this.#place.description,
        descriptionVersion: this.#place.descriptionVersion,
        paramsHash: paramsHash.toString('hex'),
      })
      const hash = canonicalSha256(facts)
      this.keys.set(hash, { hash: hexBytes(hash), facts })
      this.results.push({
        id,
        analysisId,
        setId,
        sessionId: this.#version.sessionId,
        sessionVersion: this.#version.version,
        subjectId: this.#place.subject.id,
        series: seriesKey({
          joint: set.protocol.joint,
          movement: direction.movement,
          contractionMode: direction.contractionMode,
          contractionScheme: set.protocol.contractionScheme,
          velocityDegS: direction.velocityDegS,
        }),
        movement: direction.movement,
        side: set.side,
        origin: set.origin,
        testedAt: new Date(document.startedAt),
        comparabilityHash: hexBytes(hash),
        bodyMassKg: document.bodyMass?.canonicalValue ?? null,
        nCounted: direction.counted,
        ...hotColumns(direction),
        measures: measuresDocument(direction),
        repetitions: { counted: direction.counted, notCounted: direction.notCounted, list: direction.repetitions },
      })
      return { id, movement: direction.movement }
    })
    const flagged: Flagged = { ...this.#flagPlace(), pointer: `#/sets/${index}`, results }
    this.flags.push(...findingFlags(set.findings, flagged))
  }

  #flagPlace() {
    return { subjectId: this.#place.subject.id, sessionId: this.#version.sessionId }
  }
}

function setupFlags(setup: PreparedSetup, index: number, place: SessionPlace, version: VersionPlace): FlagWrite[] {
  return findingFlags(setup.findings, {
    subjectId: place.subject.id,
    sessionId: version.sessionId,
    pointer: `#/setups/${index}`,
    results: [],
  })
}

function methodOf(set: PreparedSet) {
  return set.origin === 'computed'
    ? methodDocument(set)
    : { origin: 'reported', gravityCorrected: set.gravityCorrected }
}

const hexBytes = (hex: string): Uint8Array<ArrayBuffer> => new Uint8Array(Buffer.from(hex, 'hex'))

function idOf(ids: ReadonlyMap<string, string>, key: string): string {
  const id = ids.get(key)
  if (id === undefined) throw new RangeError(`no setup ${key}`)
  return id
}

/** A set of the document and its setup as the compute core wants to be told of them. */
import type { AnalysisParameters, GravityModel, Protocol } from '../../compute/index.ts'
import type { SessionDocument, SetDocument, SetupDocument } from '../../domain/session-document.ts'

export function setProtocol(
  set: Omit<SetDocument, 'recording' | 'reported'>,
  setup: SetupDocument,
  session: Pick<SessionDocument, 'bodyMass'>,
  gravity: GravityModel | null,
  parameters: AnalysisParameters,
): Protocol {
  return {
    joint: setup.joint,
    directions: set.directions.map(({ movement, contractionMode, velocity }) => ({
      movement,
      contractionMode,
      velocityDegS: velocity.canonicalValue,
    })),
    contractionScheme: set.contractionScheme,
    gravity,
    bodyMassKg: session.bodyMass?.canonicalValue ?? null,
    intendedRepetitions: set.intendedRepetitions ?? null,
    repetitionNotes: (set.repetitionNotes ?? []).map(({ repetition, count, reason }) => ({
      repetition,
      count,
      reason,
    })),
    parameters,
  }
}

/** The object types, each from the shape by which REST describes the same record. */
import { GraphQLList, GraphQLNonNull, type GraphQLObjectType } from 'graphql'
import { explainedComparability } from '../shapes/comparability.ts'
import { auditEvent } from '../shapes/audit.ts'
import { consent, team } from '../shapes/consent.ts'
import { criteriaSet } from '../shapes/criteria-set.ts'
import { dynamometer } from '../shapes/dynamometer.ts'
import { episode } from '../shapes/episode.ts'
import { clinicMember } from '../shapes/me.ts'
import { measurementError, repeatTests } from '../shapes/measurement-error.ts'
import { observation } from '../shapes/observation.ts'
import { readiness } from '../shapes/readiness.ts'
import { reportSummary, shownReport, squad, teamChanges, teamReport } from '../shapes/report.ts'
import { resultDetail, series } from '../shapes/result.ts'
import {
  flag,
  pushedSession,
  sessionAsSent,
  sessionSummary,
  wholeSession,
  workListItem,
  withdrawnSession,
} from '../shapes/session.ts'
import { nextSetup, referenceSetup } from '../shapes/setup.ts'
import { subject } from '../shapes/subject.ts'
import { symmetry, trend } from '../shapes/trend.ts'
import { connectionType } from './connection.ts'
import { ShapeTypes } from './types-from-shapes.ts'

export function makeTypes() {
  const shapes = new ShapeTypes()
  const types = makeObjects(shapes)
  return {
    ...types,
    subjects: connectionType(types.subject),
    sessions: connectionType(types.sessionSummary),
    workList: connectionType(types.workListItem),
    dynamometers: connectionType(types.dynamometer),
    measurementErrors: connectionType(types.measurementError),
    auditEvents: connectionType(types.auditEvent),
  }
}

function makeObjects(shapes: ShapeTypes) {
  return {
    shapes,
    member: shapes.object(clinicMember),
    subject: shapes.object(subject),
    episode: shapes.object(episode),
    observation: shapes.object(observation),
    sessionSummary: shapes.object(sessionSummary),
    session: shapes.object(wholeSession, 'Session'),
    asSent: shapes.asSent(sessionAsSent, 'SessionAsSent'),
    withdrawn: shapes.object(withdrawnSession),
    pushedSession: shapes.object(pushedSession),
    result: shapes.object(resultDetail),
    series: shapes.object(series),
    trend: shapes.object(trend),
    symmetry: shapes.object(symmetry),
    readiness: shapes.object(readiness),
    nextSetup: shapes.object(nextSetup),
    referenceSetup: shapes.object(referenceSetup),
    comparability: shapes.object(explainedComparability),
    reportSummary: shapes.object(reportSummary),
    report: shapes.object(shownReport),
    consent: shapes.object(consent),
    invitedTeam: shapes.object(team),
    flag: shapes.object(flag),
    workListItem: shapes.object(workListItem),
    dynamometer: shapes.object(dynamometer),
    criteriaSet: shapes.object(criteriaSet),
    measurementError: shapes.object(measurementError),
    repeatTests: shapes.object(repeatTests),
    auditEvent: shapes.object(auditEvent),
    squad: shapes.object(squad),
    teamReport: shapes.object(teamReport),
    teamChanges: shapes.object(teamChanges),
  }
}

export type Types = ReturnType<typeof makeTypes>

/** What is refused is null with an error beside it, and takes nothing else of the answer with it. */
export const listOf = (type: GraphQLObjectType) => new GraphQLList(new GraphQLNonNull(type))

/** Reports as the clinic and as a team sees them. */
import { z } from 'zod'
import * as lists from '../../domain/code-lists.ts'
import { criterionAnswer, readiness } from './readiness.ts'
import { day, id, instant, plainQuantity } from './common.ts'
import { interval } from './session.ts'

const decisionCategory = z.enum(lists.codesOf(lists.REPORT_DECISIONS))
const currency = z
  .enum(lists.codesOf(lists.REPORT_CURRENCIES))
  .describe(
    'What has become of it since; where more than one is true, the first of: affected_by_amendment, stale, newer_test_exists',
  )
const jws = z.string().describe('JWS compact (RFC 7515), EdDSA, over the RFC 8785 form of the report')
const place = z.strictObject({ id, name: z.string() })
const salt = z.string().describe('Random, so that what is left out cannot be guessed from a signature')

export const reportSummary = z
  .strictObject({
    id,
    version: z.number().int(),
    state: z.enum(['signed', 'superseded', 'withdrawn']),
    episodeId: id,
    subjectId: id,
    evaluatedOn: day,
    expiresOn: day,
    signedAt: instant,
    signedBy: id,
    decision: decisionCategory,
    currency,
    reason: z.string().nullable().describe('Why this version took the place of the one before'),
    withdrawal: z.strictObject({ at: instant, reason: z.string() }).nullable(),
  })
  .meta({ id: 'ReportSummary' })

const clinicReport = readiness
  .omit({ on: true })
  .extend({
    format: z.string(),
    level: z.literal('clinic'),
    clinic: place,
    reportId: id,
    reportVersion: z.number().int(),
    evaluation: z.strictObject({ id, sha256: z.string() }),
    evaluatedOn: day,
    expiresOn: day,
    signedAt: instant,
    decision: z.strictObject({ category: decisionCategory, decidedOn: day, note: z.string() }),
    signedBy: z.strictObject({ principalId: id, name: z.string(), role: z.string() }),
    salt,
  })
  .meta({ id: 'ClinicReport' })

const session = z.strictObject({ id, version: z.number().int() })
const basis = z
  .union([
    z.strictObject({
      kind: z.literal('result'),
      id,
      inForce: z.boolean(),
      session,
      set: z.string(),
      setup: z.strictObject({ id, key: z.string() }),
      recordingSha256: z.string().nullable(),
      computeVersion: z.string(),
      links: z.strictObject({ result: z.string(), session: z.string(), recording: z.string().optional() }),
    }),
    z.strictObject({
      kind: z.literal('functional_result'),
      id,
      inForce: z.boolean(),
      session,
      links: z.strictObject({ session: z.string() }),
    }),
    z.strictObject({ kind: z.literal('observation'), id, inForce: z.boolean() }),
  ])
  .meta({ id: 'ReportBasis', description: 'A piece of evidence followed back to where it comes from' })

export const shownReport = reportSummary
  .extend({
    report: clinicReport.describe('What was signed, unchanged'),
    sha256: z.string().describe('Of the RFC 8785 form of the report'),
    jws,
    keyId: z.string(),
    basis: z.array(basis),
  })
  .meta({ id: 'Report' })

export const signedProjection = z
  .strictObject({ report: z.record(z.string(), z.unknown()), jws, keyId: z.string() })
  .meta({ id: 'SignedProjection' })

export const frozenEvaluation = z
  .strictObject({ id, sha256: z.string(), evaluation: z.looseObject({ format: z.string() }) })
  .meta({ id: 'FrozenEvaluation', description: 'Criteria set, context, all evidence looked at, and the answer' })

const verdict = z.enum(['met', 'not_met', 'not_assessable'])
const teamCriterion = z.union([
  z.strictObject({ key: z.string(), verdict }),
  z.strictObject({
    key: z.string(),
    verdict,
    comparator: z.enum(['<', '<=', '>', '>=', 'is']),
    threshold: criterionAnswer.shape.threshold,
    observed: z.union([plainQuantity.extend({ interval: interval.optional() }), z.string(), z.null()]),
    intervalSpansThreshold: z.boolean().nullable(),
  }),
])

const row = {
  teamReference: z.string(),
  displayName: z.string(),
  consentUntil: day,
  reportId: id.describe('Of this consent alone'),
  reportVersion: z.number().int(),
  source: z.strictObject({ clinicName: z.string() }),
  evaluatedOn: day,
  expiresOn: day,
  currency,
  counts: readiness.shape.counts,
  decision: z.strictObject({ category: decisionCategory, decidedOn: day }),
}
const setWithCitation = z.strictObject({ key: z.string(), version: z.number().int(), citation: z.string() })
const levels = {
  status: {
    ...row,
    level: z.literal('status'),
    criteriaSet: z.strictObject({ key: z.string(), version: z.number().int() }),
  },
  criteria: {
    ...row,
    level: z.literal('criteria'),
    criteriaSet: setWithCitation,
    criteria: z.array(teamCriterion.options[0]),
  },
  measures: {
    ...row,
    level: z.literal('measures'),
    criteriaSet: setWithCitation,
    criteria: z.array(teamCriterion.options[1]),
  },
}
const eachLevel = <T extends z.ZodRawShape>(more: T) =>
  z.union([
    z.strictObject({ ...levels.status, ...more }),
    z.strictObject({ ...levels.criteria, ...more }),
    z.strictObject({ ...levels.measures, ...more }),
  ])

export const squad = z
  .strictObject({
    team: z.strictObject({ name: z.string() }),
    asOf: instant,
    rows: z.array(eachLevel({}).meta({ id: 'TeamRow', description: 'A report at the level that was agreed' })),
    notes: z.array(z.string()),
  })
  .meta({ id: 'Squad' })

export const teamReport = eachLevel({
  report: z.record(z.string(), z.unknown()).describe('What was signed for this consent'),
  jws,
}).meta({ id: 'TeamReport' })

export const teamChanges = z
  .strictObject({
    items: z.array(
      z.union([
        z.strictObject({ change: z.literal('gone'), reportId: id }).describe('Whatever the cause'),
        eachLevel({ change: z.literal('report') }),
      ]),
    ),
    more: z.boolean().describe('Ask again at once'),
    nextSince: z.string().describe('The `since` of the next call'),
  })
  .meta({ id: 'TeamChanges' })

import { z } from 'zod'
import { id, instant, pageOf } from './common.ts'

const hash = z.string().describe('SHA-256, hex')
const jws = z.string().describe('The signed tree head: JWS compact serialisation, Ed25519')
const count = z.number().int()

const sealedAt = z
  .strictObject({ epoch: count, sequence: count })
  .nullable()
  .describe('Place in the sealed log; null while it waits for its seal')

const actor = z.strictObject({
  principalId: id.nullable(),
  displayName: z.string().nullable(),
  role: z.string().nullable(),
  client: z.string().nullable(),
})

export const auditEvent = z
  .strictObject({
    id,
    at: instant,
    sealed: sealedAt,
    actor,
    purpose: z.string().nullable(),
    action: z.string(),
    outcome: z.enum(['done', 'refused', 'failed']),
    requestId: z.string(),
    subjectIds: z.array(id),
    resourceIds: z.array(z.string()),
    details: z
      .record(z.string(), z.unknown())
      .describe('A text about a person is {subjectId, text}, and {subjectId, text: null, reason} once it cannot be read'), // prettier-ignore
  })
  .meta({ id: 'AuditEvent' })

export const auditEvents = pageOf(auditEvent)

export const disclosures = z
  .strictObject({
    subjectId: id,
    erasedAt: instant.nullable(),
    items: z.array(
      z.strictObject({
        eventId: id,
        at: instant,
        sealed: sealedAt,
        actor,
        team: z
          .strictObject({ id, name: z.string().nullable().describe('As the clinic invited it') })
          .nullable()
          .describe('The team whose reader it was; null: it was none'),
        purpose: z.string().nullable(),
        action: z.string(),
        requestId: z.string(),
      }),
    ),
    nextCursor: z.string().nullable(),
  })
  .meta({ id: 'AccountingOfDisclosures' })

export const treeHead = z
  .strictObject({ epoch: count, size: count, rootHash: hash, timestamp: instant.nullable(), jws })
  .meta({ id: 'TreeHead' })

export const sealed = z
  .strictObject({
    epoch: count,
    size: count,
    rootHash: hash,
    added: count.describe('Entries that this call sealed'),
    complete: z.boolean(),
    jws,
  })
  .meta({ id: 'Sealed' })

export const inclusionProof = z
  .strictObject({
    epoch: count,
    sequence: count,
    leafIndex: count,
    size: count,
    leafHash: hash,
    path: z.array(hash),
    entry: z.string().nullable().describe('The text whose UTF-8 bytes are hashed for the leaf'),
    head: jws.nullable().describe('Of the tree of this size; null where no head has exactly this size'),
  })
  .meta({ id: 'InclusionProof' })

export const consistencyProof = z
  .strictObject({
    epoch: count,
    firstSize: count,
    secondSize: count,
    path: z.array(hash),
    firstHead: jws.nullable(),
    secondHead: jws.nullable(),
  })
  .meta({ id: 'ConsistencyProof' })

export const verificationLines = z.string().meta({
  examples: [
    '{"progress":{"entries":10000}}\n{"report":{"verdict":"intact","entries":10412,"firstBad":null}}\n',
    '{"report":{"verdict":"broken","firstBad":{"epoch":1,"sequence":17,"notAfter":17,"reason":"event_differs_from_leaf"}}}\n',
  ],
})

import canonicalize from 'canonicalize'
import { randomUUID } from 'node:crypto'
import fc from 'fast-check'
import { describe, expect, it } from 'vitest'
import { canonicalEntry, makeAuditEvent } from '../../src/ledger/canonical-event.ts'
import type { AuditEvent, JsonValue } from '../../src/ledger/canonical-event.ts'
import { hashLeaf } from '../../src/ledger/merkle.ts'
import { decryptForSubject, encryptForSubject, makeSubjectKey } from '../../src/ledger/subject-keys.ts'

const event = (changes: Partial<AuditEvent> = {}): AuditEvent => ({
  clinicId: '0a0a0a0a-0000-4000-8000-000000000001',
  id: '0b0b0b0b-0000-4000-8000-000000000002',
  actorPrincipalId: '0c0c0c0c-0000-4000-8000-000000000003',
  actorRole: 'clinician',
  client: 'ehr-bridge',
  purpose: null,
  action: 'session.read',
  outcome: 'done',
  requestId: 'r-1',
  subjectIds: ['0d0d0d0d-0000-4000-8000-000000000004'],
  resourceIds: ['session/0e0e0e0e-0000-4000-8000-000000000005'],
  details: { version: 2 },
  ...changes,
})
const entry = (changes: Partial<AuditEvent> = {}) => ({
  ...event(changes),
  epoch: 1,
  sequence: 7,
  at: '2026-11-25T07:31:00.123Z',
})

describe('RFC 8785 canonical JSON, as used for leaves', () => {
  it('prints the example of section 3.2.2 as section 3.2.3 shows it', () => {
    const input = String.raw`{
      "numbers": [333333333.33333329, 1E30, 4.50, 2e-3, 0.000000000000000000000000001],
      "string": "\u20ac$\u000F\u000aA'\u0042\u0022\u005c\\\"\/",
      "literals": [null, true, false]
    }`
    expect(canonicalize(JSON.parse(input))).toBe(
      String.raw`{"literals":[null,true,false],"numbers":[333333333.3333333,1e+30,4.5,0.002,1e-27],"string":"€$\u000f\nA'B\"\\\\\"/"}`,
    )
  })

  it('sorts the keys of section 3.2.3 by UTF-16 code unit', () => {
    const input = JSON.parse(
      String.raw`{"\u20ac":"Euro Sign","\r":"Carriage Return","\ufb33":"Hebrew Letter Dalet With Dagesh","1":"One",
        "\ud83d\ude00":"Emoji: Grinning Face","\u0080":"Control","\u00f6":"Latin Small Letter O With Diaeresis"}`,
    ) as Record<string, string>
    const printed = JSON.parse(`[${canonicalize(input)!.slice(1, -1).replace(/":"/g, '","')}]`) as string[]
    expect(printed.filter((_, i) => i % 2 === 1)).toEqual([
      'Carriage Return',
      'One',
      'Control',
      'Latin Small Letter O With Diaeresis',
      'Euro Sign',
      'Emoji: Grinning Face',
      'Hebrew Letter Dalet With Dagesh',
    ])
  })

  /** Appendix B: the bits of a binary64 and how it is printed. */
  it.each([
    ['0000000000000000', '0'],
    ['8000000000000000', '0'],
    ['0000000000000001', '5e-324'],
    ['8000000000000001', '-5e-324'],
    ['7fefffffffffffff', '1.7976931348623157e+308'],
    ['ffefffffffffffff', '-1.7976931348623157e+308'],
    ['4340000000000000', '9007199254740992'],
    ['c340000000000000', '-9007199254740992'],
    ['4430000000000000', '295147905179352830000'],
    ['44b52d02c7e14af5', '9.999999999999997e+22'],
    ['44b52d02c7e14af6', '1e+23'],
    ['44b52d02c7e14af7', '1.0000000000000001e+23'],
    ['444b1ae4d6e2ef4e', '999999999999999700000'],
    ['444b1ae4d6e2ef4f', '999999999999999900000'],
    ['444b1ae4d6e2ef50', '1e+21'],
    ['3eb0c6f7a0b5ed8c', '9.999999999999997e-7'],
    ['3eb0c6f7a0b5ed8d', '0.000001'],
    ['41b3de4355555553', '333333333.3333332'],
    ['41b3de4355555554', '333333333.33333325'],
    ['41b3de4355555555', '333333333.3333333'],
    ['41b3de4355555556', '333333333.3333334'],
    ['41b3de4355555557', '333333333.33333343'],
    ['becbf647612f3696', '-0.0000033333333333333333'],
    ['43143ff3c1cb0959', '1424953923781206.2'],
  ])('prints the number with bits %s as %s', (bits, printed) => {
    expect(canonicalize(Buffer.from(bits, 'hex').readDoubleBE())).toBe(printed)
  })

  it('has no form for NaN and infinity', () => {
    expect(() => canonicalize(Number.NaN)).toThrow()
    expect(() => canonicalize({ a: Infinity })).toThrow()
  })
})

describe('the leaf of an entry', () => {
  it('hashes these bytes: a change here breaks every log there is', () => {
    const { bytes, leafHash } = canonicalEntry(entry())
    expect(bytes.toString('utf8')).toBe(
      '{"action":"session.read","actor":{"client":"ehr-bridge","principalId":"0c0c0c0c-0000-4000-8000-000000000003",' +
        '"role":"clinician"},"at":"2026-11-25T07:31:00.123Z","clinicId":"0a0a0a0a-0000-4000-8000-000000000001",' +
        '"details":{"version":2},"epoch":1,"format":"limb-ledger-audit-entry/1",' +
        '"id":"0b0b0b0b-0000-4000-8000-000000000002","outcome":"done","purpose":null,"requestId":"r-1",' +
        '"resourceIds":["session/0e0e0e0e-0000-4000-8000-000000000005"],"sequence":7,' +
        '"subjectIds":["0d0d0d0d-0000-4000-8000-000000000004"]}',
    )
    expect(leafHash).toEqual(hashLeaf(bytes))
  })

  it('does not depend on the order in which members were written', () => {
    const shuffled = Object.fromEntries(Object.entries(entry()).reverse()) as ReturnType<typeof entry>
    expect(canonicalEntry(shuffled).leafHash).toEqual(canonicalEntry(entry()).leafHash)
  })

  it('changes with every single member', () => {
    const base = canonicalEntry(entry()).leafHash
    const id = randomUUID()
    const changes = [
      { clinicId: id },
      { id },
      { actorPrincipalId: null },
      { actorRole: null },
      { client: null },
      { purpose: 'research' },
      { action: 'session.list' },
      { outcome: 'refused' },
      { requestId: 'r-2' },
      { subjectIds: [] },
      { resourceIds: [] },
      { details: {} },
      { epoch: 2 },
      { sequence: 8 },
      { at: '2026-11-25T07:31:00.124Z' },
    ]
    expect(changes.flatMap(Object.keys).sort()).toEqual(Object.keys(entry()).sort())
    for (const change of changes) expect(canonicalEntry({ ...entry(), ...change }).leafHash).not.toEqual(base)
  })
})

describe('an event', () => {
  it('names its subjects once each, in one order', () => {
    const [a, b] = ['0d0d0d0d-0000-4000-8000-000000000004', '0c0c0c0c-0000-4000-8000-000000000003']
    expect(makeAuditEvent(event({ subjectIds: [a, b, a] })).subjectIds).toEqual([b, a])
  })

  it('takes what machines write', () => {
    const details: JsonValue = {
      code: 'reference_not_found',
      pointer: '#/sets/2/recording/channels/0/unit',
      route: 'POST /v1/sessions/{id}/amendments',
      before: { version: 3, etag: '"3"', sha256: `sha256:${'ab'.repeat(32)}` },
      on: '2026-11-25',
      at: '2026-11-25T08:00:00+01:00',
      many: [1, 2.5, true, null, randomUUID()],
      computeVersion: '1.0.0',
    }
    expect(makeAuditEvent(event({ details })).details).toEqual(details)
  })

  it.each([
    ['a sentence', { details: { reason: 'The knee was swollen.' } }],
    ['a name', { details: { by: 'Ada' } }],
    ['a sentence deep inside', { details: { a: [{ b: ['see note above'] }] } }],
    ['an address as resource', { resourceIds: ['someone@clinic.example'] }],
    ['a purpose in words', { purpose: 'planning who plays on Sunday' }],
    ['a number that is none', { details: { n: Number.NaN } }],
    ['a subject by record number', { subjectIds: ['RB-20417'] }],
    ['a text under a key that says it', { details: { 'Ada Lovelace': 1 } }],
    ['more than an event should carry', { details: Array.from({ length: 2_000 }, () => randomUUID()) }],
    ['a list without bottom', { details: [[[[[[[[[[1]]]]]]]]]] }],
    [
      'what only looks encrypted',
      { details: { encryption: 'A256GCM', subjectId: 'me', iv: '', ciphertext: 'text', tag: '' } },
    ],
  ] satisfies [string, Partial<AuditEvent>][])('refuses %s', (_, changes) => {
    expect(() => makeAuditEvent(event(changes))).toThrow(RangeError)
  })

  it('carries a text about a person only under that person’s key', () => {
    const key = makeSubjectKey()
    const { clinicId, id, subjectIds } = event()
    const place = { clinicId, subjectId: subjectIds[0]!, eventId: id, field: 'reason' }
    const reason = encryptForSubject(key, 'The knee was swollen.', place)
    const made = makeAuditEvent(event({ details: { reason } }))
    const { bytes, leafHash } = canonicalEntry({ ...entry(), ...made })
    expect(bytes.toString('utf8')).not.toContain('swollen')
    expect(decryptForSubject(key, reason, place)).toBe('The knee was swollen.')
    // The key is gone: nothing else than a guess of 256 bits is left, and the leaf is what it was.
    expect(decryptForSubject(makeSubjectKey(), reason, place)).toBeNull()
    expect(canonicalEntry({ ...entry(), ...made }).leafHash).toEqual(leafHash)
  })

  it('never lets free text through, whatever the words', () => {
    fc.assert(
      fc.property(fc.array(fc.stringMatching(/^[A-Za-z]{2,12}$/), { minLength: 2, maxLength: 6 }), (words) => {
        expect(() => makeAuditEvent(event({ details: { note: words.join(' ') } }))).toThrow(RangeError)
      }),
      { seed: 20261125, numRuns: 200 },
    )
  })
})

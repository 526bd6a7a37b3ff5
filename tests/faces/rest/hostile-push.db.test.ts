import { beforeEach, describe, expect, it } from 'vitest'
import type { LooseDocument } from '../../fixtures/example-session.ts'
import { makeTestService, type Answer } from '../../harness/clinic.ts'
import { testDatabase } from '../../harness/test-database.ts'
import { makeWorld, recorded, rowCounts, type World } from '../../application/sessions/documents.ts'

const service = await makeTestService(await testDatabase())
let world: World
beforeEach(async () => {
  world = await makeWorld(service)
})

const INTERNAL =
  /node_modules|\.ts\b|\bat \/|Error:|JSON\.parse|zod|prisma|postgres|\bselect\b.*\bfrom\b|insert into|\/work\/|\/tmp\//i

/** Sends bytes to the two routes that take a whole visit; neither may store anything, or fail as only a bug fails. */
async function refused(
  bytes: string | Uint8Array,
  headers: Record<string, string> = {},
): Promise<Answer<LooseDocument>> {
  const before = await rowCounts(service)
  const answers = [
    await world.machine.post('/v1/sessions', null, { bytes, headers }),
    await world.machine.post('/v1/calculations/session-check', null, { bytes, headers }),
  ]
  for (const answer of answers) {
    expect(answer.status, answer.text.slice(0, 300)).toBeGreaterThanOrEqual(400)
    expect(answer.status, answer.text.slice(0, 300)).toBeLessThan(500)
    expect(answer.headers['content-type']).toMatch(/^application\/problem\+json/)
    expect(answer.text).not.toMatch(INTERNAL)
  }
  expect(answers[1]?.body.errors).toEqual(answers[0]?.body.errors)
  expect(await rowCounts(service)).toEqual(before)
  return answers[0] as Answer<LooseDocument>
}

const text = (change: (document: LooseDocument) => void = () => {}): string =>
  JSON.stringify(world.visit('2026-11-10', { change }))
const nested = (depth: number): string => `${'['.repeat(depth)}1${']'.repeat(depth)}`
const inPlaceOf = (document: string, placeholder: string, raw: string): string => document.replace(JSON.stringify(placeholder), raw) // prettier-ignore

describe('a pushed document', () => {
  const NUMBERS = ['1e999', '-1e999', '1e308', '-0.0000001', '99999999999999999999']
  it.each(NUMBERS)('with a body mass of %s kg is out of range, at its place', async (number) => {
    const answer = await refused(
      inPlaceOf(
        text((d) => (d.bodyMass.value = '#')),
        '#',
        number,
      ),
    )
    expect(answer.body.errors).toMatchObject([{ pointer: '#/bodyMass/value', code: 'out_of_range' }])
  })

  it.each(['NaN', 'Infinity', '-Infinity', '01', '.5', '1.', '0x10', '+1', '1_000'])(
    'with the number %s is no JSON',
    async (number) => {
      // prettier-ignore
      const answer = await refused(inPlaceOf(text((d) => (d.bodyMass.value = '#')), '#', number))
      expect(answer.body.code).toBe('invalid_json')
    },
  )

  it.each(['"68.4"', 'null', 'true', '[68.4]', '{}'])('with %s where a number belongs says so', async (value) => {
    const answer = await refused(
      inPlaceOf(
        text((d) => (d.bodyMass.value = '#')),
        '#',
        value,
      ),
    )
    expect(answer.body.errors).toMatchObject([{ pointer: '#/bodyMass/value' }])
  })

  it('with a number beyond all range among ten thousand samples says which', async () => {
    const document = recorded(world.visit('2026-11-10'))
    document.sets[1].recording.channels[0].values[777] = '#'
    const answer = await refused(inPlaceOf(JSON.stringify(document), '#', '1e999'))
    expect(answer.body.errors[0].pointer).toMatch(/^#\/sets\/1\/recording/)
  })

  it.each([
    ['a key twice', (d: string) => d.replace('"purpose":', '"bodyMass":{"value":1,"unit":"kg"},"purpose":'), 'duplicate_key'], // prettier-ignore
    ['a key twice in a setup', (d: string) => d.replace('"side":"right"', '"side":"right","side":"left"'), 'duplicate_key'], // prettier-ignore
    ['a key twice, once in escapes', (d: string) => d.replace('"side":"right"', '"side":"right","\\u0073ide":"left"'), 'duplicate_key'], // prettier-ignore
    ['__proto__', (d: string) => d.replace('"purpose":', '"__proto__":{"isAdmin":true},"purpose":'), 'invalid_json'],
    ['constructor.prototype', (d: string) => d.replace('"purpose":', '"constructor":{"prototype":{"a":1}},"purpose":'), null], // prettier-ignore
    ['a NUL in its notes', (d: string) => d.replace('"purpose":', '"notes":"a\\u0000b","purpose":'), 'invalid_json'],
    ['half a character in its notes', (d: string) => d.replace('"purpose":', '"notes":"\\ud83d","purpose":'), 'invalid_json'], // prettier-ignore
    ['halves of a character in the wrong order', (d: string) => d.replace('"purpose":', '"notes":"\\udc00\\ud83d","purpose":'), 'invalid_json'], // prettier-ignore
    ['values nested 33 deep', (d: string) => d.replace('"purpose":', `"notes":${nested(33)},"purpose":`), 'invalid_json'], // prettier-ignore
    ['values nested 100,000 deep', (d: string) => d.replace('"purpose":', `"notes":${nested(100_000)},"purpose":`), 'invalid_json'], // prettier-ignore
    ['a comment', (d: string) => d.replace('"purpose":', '/* */"purpose":'), 'invalid_json'],
    ['a comma too many', (d: string) => d.replace('"purpose":', ',"purpose":'), 'invalid_json'],
    ['something after its end', (d: string) => `${d}{}`, 'invalid_json'],
    ['its end missing', (d: string) => d.slice(0, -5), 'invalid_json'],
    ['a byte order mark', (d: string) => `\ufeff${d}`, 'invalid_json'],
  ])('with %s is refused', async (_what, change, code) => {
    const answer = await refused(change(text()))
    if (code !== null) expect(answer.body.code).toBe(code)
    expect(({} as { isAdmin?: unknown }).isAdmin).toBeUndefined()
  })

  it.each([
    ['a byte that begins nothing', [0xff]],
    ['a character cut short', [0xc3]],
    ['an overlong slash', [0xc0, 0xaf]],
    ['half a character, encoded', [0xed, 0xa0, 0x80]],
    ['a character beyond the last', [0xf4, 0x90, 0x80, 0x80]],
  ])('with %s is not UTF-8', async (_what, bytes) => {
    const [head, tail] = text((d) => (d.notes = '#')).split('#')
    const answer = await refused(Buffer.concat([Buffer.from(head ?? ''), Buffer.from(bytes), Buffer.from(tail ?? '')]))
    expect(answer.body.errors).toMatchObject([{ code: 'invalid_utf8' }])
  })

  it.each([
    [
      'more samples as values than a recording may have',
      (d: LooseDocument) => {
        for (const channel of recorded(d).sets[0].recording.channels) channel.values = Array<number>(100_001).fill(1)
      },
      '#/sets/0/recording/channels',
    ],
    [
      '201 sets',
      (d: LooseDocument) => (d.sets = Array.from({ length: 201 }, (_, i) => ({ ...d.sets[0], key: `s${i}` }))),
      '#/sets',
    ],
    [
      '41 setups',
      (d: LooseDocument) => (d.setups = Array.from({ length: 41 }, (_, i) => ({ ...d.setups[0], key: `s${i}` }))),
      '#/setups',
    ],
    [
      '201 screening answers',
      (d: LooseDocument) => (d.screening.answers = Array(201).fill(d.screening.answers[0])),
      '#/screening/answers',
    ],
    ['4,001 characters of notes', (d: LooseDocument) => (d.notes = 'x'.repeat(4_001)), '#/notes'],
    [
      'an external id of 201 characters',
      (d: LooseDocument) => (d.externalId.value = 'x'.repeat(201)),
      '#/externalId/value',
    ],
  ])('with %s is refused at that place', async (_what, change, pointer) => {
    // prettier-ignore
    const answer = await refused(text(change))
    expect(answer.body.errors.map((e: LooseDocument) => e.pointer)).toContain(pointer)
  })

  it('with a thousand faults tells the first hundred', async () => {
    const answer = await refused(text((d) => (d.screening.answers = Array.from({ length: 200 }, () => ({ question: 'x', answer: 'y', oops: 1 }))))) // prettier-ignore
    expect(answer.body.errors).toHaveLength(100)
  })

  it('of more than 16 MB is too large, and is told the limit', async () => {
    const answer = await refused(`{"notes":"${'x'.repeat(16 * 1024 * 1024)}"}`)
    expect(answer.status).toBe(413)
    expect(answer.body).toMatchObject({ code: 'too_large', limitBytes: 16 * 1024 * 1024 })
  })

  it.each([
    'text/plain',
    'application/json;charset=latin1',
    'application/jsonx',
    'application/json, text/plain',
    'application /json',
    '',
  ])(
    // prettier-ignore
    'of the type "%s" is not read',
    async (type) => {
      expect((await refused(text(), { 'content-type': type })).status).toBe(415)
    },
  )

  it('echoes units and words of our lists, never a name, an identifier or a note', async () => {
    const answer = await refused(
      text((d) => {
        d.bodyMass.unit = 'kilos'
        d.purpose = 'to_see'
        d.operator.identifier.secret = 'canary-identifier'
        d.notes = { secret: 'canary-note' }
        d.externalId.value = ['canary-external']
      }),
    )
    expect(answer.text).toContain('kilos')
    expect(answer.text).not.toMatch(/canary/)
  })
})

describe('an accepted text', () => {
  const TEXTS = [
    'é (one) é (two)',
    'naïve ﬀ ligature, ſ long s, K Kelvin sign',
    '\u202Eright to left\u202C and \u200Bzero\u200Dwidth\u2060 joined',
    'family 👨‍👩‍👧‍👦, flag 🇨🇭, beyond the plane 𝔘𝔫𝔦𝔠𝔬𝔡𝔢',
    'line\u2028para\u2029end\r\n\ttab \u0001\u001f\u007f\u0085',
    '\ufeffmark first, \ufffd replaced, \uffff last of the plane',
    '=cmd|calc!A1, +1, -1, @x',
    `quotes ' " \\ / </script><b>&amp; \${x} %s {{x}} $1`,
    "'; drop table subject; --",
    '  spaces around  ',
  ]
  it('reads back byte for byte, wherever it stood', async () => {
    const notes = TEXTS.join('\n')
    const document = world.visit('2026-11-10')
    document.notes = notes
    document.setups[0].notes = notes
    document.sets[1].notes = notes
    document.screening.answers[0].note = notes.slice(0, 400)
    document.externalId.value = 'naïve é é 👨‍👩‍👧‍👦 \u202E'
    const { body } = await world.push(document)
    const read = (await world.clinician.get(`/v1/sessions/${body.session.id}`)).body
    const bytes = (value: string): string => Buffer.from(value).toString('hex')
    for (const [got, sent] of [
      [read.document.notes, notes],
      [read.document.setups[0].notes, notes],
      [read.document.sets[1].notes, notes],
      [read.document.screening.answers[0].note, document.screening.answers[0].note],
      [read.session.externalId.value, document.externalId.value],
    ]) {
      expect(bytes(got)).toBe(bytes(sent))
    }
    const found = await world.clinician.get(
      `/v1/sessions?${new URLSearchParams({ externalIdSystem: document.externalId.system, externalIdValue: document.externalId.value }).toString()}`,
    )
    expect(found.body.items).toHaveLength(1)
    // Written in another composition it is another text, and another session.
    const other = {
      ...document,
      externalId: { ...document.externalId, value: document.externalId.value.normalize('NFD') },
    }
    expect((await world.machine.post('/v1/sessions', other)).status).toBe(201)
  })

  it('keeps every digit of a number', async () => {
    const values = [60.1 + 0.2, 68.4, 123.456789012345, 99.99999999999999]
    for (const value of values) {
      const { body } = await world.push(world.visit('2026-11-10', { change: (d) => (d.bodyMass.value = value) }))
      const read = (await world.clinician.get(`/v1/sessions/${body.session.id}`)).body
      expect(read.document.bodyMass.value).toBe(value)
    }
  }, 30_000)
})

import { readFileSync } from 'node:fs'
import fc from 'fast-check'
import { describe, expect, it } from 'vitest'
import { canonicalEntry } from '../../src/ledger/canonical-event.ts'
import { hashLeaf, merkleRoot } from '../../src/ledger/merkle.ts'
import { digestOfHead, signTreeHead } from '../../src/ledger/tree-head.ts'
import { readKeys } from '../../src/ledger/verify/signed-head.ts'
import { verifyExport } from '../../src/ledger/verify/verify-export.ts'
import type { VerificationReport } from '../../src/ledger/verify/verify-export.ts'
import { readWitness } from '../../src/ledger/verify/witness-file.ts'
import { BuiltLog, entryAt, entryLine } from './built-log.ts'
import { secondOpinion } from './second-verifier.ts'

/** 10 entries under three heads after the opening one: sizes 3, 7, 10. Lines: header, head 0, entries and heads, end. */
const log = new BuiltLog().append(3).seal().append(4).seal().append(3).seal()
const jwks = { keys: [log.signer.publicJwk] }

/** Both verifiers, with the witness or without: they must agree. */
async function check(lines: string[], witnessLines: string[] | null, of = log): Promise<VerificationReport> {
  const trusted = { keys: [of.signer.publicJwk] }
  const keys = readKeys(JSON.stringify(trusted))
  const witness = witnessLines === null ? null : await readWitness(witnessLines, keys)
  const report = await verifyExport(lines, { keys, witness })
  const second = secondOpinion(lines, trusted, witnessLines)
  expect({
    sound: report.verdict !== 'broken',
    lossDeclared: report.declaredLosses.length > 0,
    place: report.firstBad && [report.firstBad.epoch, report.firstBad.sequence, report.firstBad.notAfter],
  }).toEqual({
    sound: second.sound,
    lossDeclared: second.lossDeclared,
    place: second.sound ? null : [second.epoch, second.sequence, second.notAfter],
  })
  return report
}

const lineOf = (sequence: number): number =>
  log.export().findIndex((line) => line.includes(`\\"sequence\\":${sequence},`))
const headLine = (n: number): number =>
  log.export().reduce<number[]>((at, line, i) => (line.startsWith('{"head"') ? [...at, i] : at), [])[n]!

function forged(sequence: number): { text: string; leafHash: Buffer } {
  const { bytes, leafHash } = canonicalEntry(entryAt(log.clinicId, 1, sequence, 'session.create'))
  return { text: bytes.toString('utf8'), leafHash }
}

function edited(edit: (lines: string[]) => void): string[] {
  const lines = log.export()
  edit(lines)
  return lines
}

/** The counts of the last line put right, as a careful forger would. */
function recounted(lines: string[]): string[] {
  const entries = lines.filter((line) => line.startsWith('{"entry"')).length
  const heads = lines.filter((line) => line.startsWith('{"head"')).length
  return [...lines.slice(0, -1), JSON.stringify({ end: { entries, heads } })]
}

describe('an untouched export', () => {
  it('is intact, with the witness and without, for both verifiers', async () => {
    expect(await check(log.export(), log.witnessLines())).toMatchObject({
      verdict: 'intact',
      clinicId: log.clinicId,
      entries: 10,
      heads: 4,
      epochs: [{ epoch: 1, size: 10 }],
      witnessedThrough: { epoch: 1, size: 10 },
      firstBad: null,
    })
    expect(await check(log.export(), null)).toMatchObject({ verdict: 'intact', witnessedThrough: null })
  })

  it('is intact when it is newer than the copy of the witness', async () => {
    const report = await check(log.export(), log.witnessLines().slice(0, 2))
    expect(report).toMatchObject({ verdict: 'intact', witnessedThrough: { epoch: 1, size: 3 } })
  })

  it('is intact for any sizes of batches', async () => {
    await fc.assert(
      fc.asyncProperty(fc.array(fc.integer({ min: 1, max: 9 }), { maxLength: 8 }), async (batches) => {
        const any = new BuiltLog(log.signer)
        for (const batch of batches) any.append(batch).seal()
        expect((await check(any.export(), any.witnessLines(), any)).verdict).toBe('intact')
      }),
      { seed: 20261125, numRuns: 12 },
    )
  })

  it('counts its entries to whoever waits', async () => {
    const long = new BuiltLog(log.signer).append(10_001).seal()
    const seen: number[] = []
    await verifyExport(long.export(), {
      keys: readKeys(JSON.stringify(jwks)),
      witness: null,
      onProgress: (entries) => seen.push(entries),
    })
    expect(seen).toEqual([10_000])
  })
})

describe('tampering is detected and the first bad entry named', () => {
  const cases: [string, string[], { sequence: number; reason: string; notAfter?: number }][] = [
    [
      'an edited entry',
      edited((lines) => (lines[lineOf(5)] = lines[lineOf(5)]!.replace('session.read', 'session.make'))),
      { sequence: 5, reason: 'entry_does_not_match_its_leaf_hash' },
    ],
    [
      'a deleted entry',
      recounted(edited((lines) => lines.splice(lineOf(5), 1))),
      { sequence: 5, reason: 'sequence_not_gapless' },
    ],
    [
      'two entries exchanged',
      edited((lines) => ([lines[lineOf(4)], lines[lineOf(6)]] = [lines[lineOf(6)]!, lines[lineOf(4)]!])),
      { sequence: 4, reason: 'sequence_not_gapless' },
    ],
    [
      'an entry repeated',
      recounted(edited((lines) => lines.splice(lineOf(6), 0, lines[lineOf(5)]!))),
      { sequence: 6, reason: 'sequence_not_gapless' },
    ],
    [
      'the last entry of a head cut out',
      recounted(edited((lines) => lines.splice(lineOf(7), 1))),
      { sequence: 7, reason: 'entry_missing' },
    ],
    ['the export cut short', log.export().slice(0, -3), { sequence: 10, reason: 'export_cut_short' }],
    [
      'a head cut out of the middle',
      recounted(edited((lines) => lines.splice(headLine(2), 1))),
      { sequence: 4, notAfter: 10, reason: 'head_missing' },
    ],
    [
      'an old head replayed in the place of a newer one',
      edited((lines) => (lines[headLine(2)] = lines[headLine(1)]!)),
      { sequence: 4, notAfter: 7, reason: 'head_out_of_order' },
    ],
    [
      'a head with one character of its signature changed',
      edited(
        (lines) =>
          (lines[headLine(2)] = lines[headLine(2)]!.replace(
            /(.)(.{40}"\})$/,
            (_, c: string, rest: string) => (c === 'A' ? 'B' : 'A') + rest,
          )),
      ),
      { sequence: 4, notAfter: 7, reason: 'head_not_signed' },
    ],
    [
      'a second opening of the same epoch',
      recounted(edited((lines) => lines.splice(headLine(1) + 1, 0, lines[headLine(0)]!))),
      { sequence: 4, reason: 'epoch_does_not_follow' },
    ],
    [
      'a line of something else',
      edited((lines) => lines.splice(lineOf(3), 0, '{"remark":1}')),
      { sequence: 3, reason: 'line_not_understood' },
    ],
    ['a line behind the end', [...log.export(), log.export()[2]!], { sequence: 11, reason: 'line_not_understood' }],
    ['another file altogether', ['{"format":"something/1"}'], { sequence: 1, reason: 'not_an_export' }],
    ['an empty file', [], { sequence: 1, reason: 'export_cut_short' }],
  ]

  it.each(cases)('%s', async (_, lines, bad) => {
    expect(await check(lines, log.witnessLines())).toMatchObject({ verdict: 'broken', firstBad: { epoch: 1, ...bad } })
    expect(await check(lines, null)).toMatchObject({ verdict: 'broken', firstBad: { epoch: 1, ...bad } })
  })

  it('an entry rewritten together with its leaf hash: by the witness exactly, by the heads within two of them', async () => {
    const entry = forged(5)
    const lines = edited((all) => (all[lineOf(5)] = entryLine(entry.text, entry.leafHash)))
    expect(await check(lines, log.witnessLines())).toMatchObject({
      firstBad: { sequence: 5, notAfter: 5, reason: 'entry_differs_from_witness' },
    })
    expect(await check(lines, null)).toMatchObject({
      firstBad: { sequence: 4, notAfter: 7, reason: 'root_differs_from_head' },
    })
  })

  it('an entry inserted, with everything behind it renumbered and every hash recomputed', async () => {
    const lines = log.export()
    const texts = log.entries.map(({ text }) => text)
    texts.splice(4, 0, forged(5).text)
    const renumbered = texts.map((text, i) => text.replace(/"sequence":\d+/, `"sequence":${i + 1}`)).slice(0, 10)
    renumbered.forEach((text, i) => (lines[lineOf(i + 1)] = entryLine(text, hashLeaf(Buffer.from(text)))))
    expect(await check(lines, log.witnessLines())).toMatchObject({ firstBad: { sequence: 5, notAfter: 5 } })
    expect(await check(lines, null)).toMatchObject({ firstBad: { sequence: 4, notAfter: 7 } })
  })

  it('the tail cut off together with its heads: seen by whoever has the witness, and by nobody else', async () => {
    const lines = recounted([...log.export().slice(0, headLine(2) + 1), ''])
    expect(await check(lines, log.witnessLines())).toMatchObject({
      verdict: 'broken',
      firstBad: { sequence: 8, notAfter: 8, reason: 'entry_missing' },
    })
    expect((await check(lines, null)).verdict).toBe('intact')
  })

  it('the tail rewritten and signed again by somebody who has the key: seen by whoever has the witness', async () => {
    const other = new BuiltLog(log.signer, log.clinicId)
    const lines = log.export().slice(0, headLine(1) + 1)
    const kept = log.entries.slice(0, 3).map(({ leafHash }) => leafHash)
    const tail = [4, 5, 6, 7].map(forged)
    const { jws } = signTreeHead(
      {
        ...log.witness[2]!.head,
        rootHash: merkleRoot([...kept, ...tail.map(({ leafHash }) => leafHash)]).toString('hex'),
        previousHead: digestOfHead(log.witness[1]!.jws),
      },
      other.signer,
    )
    lines.push(...tail.map(({ text, leafHash }) => entryLine(text, leafHash)), JSON.stringify({ head: jws }), '')
    expect((await check(recounted(lines), null)).verdict).toBe('intact')
    expect(await check(recounted(lines), log.witnessLines())).toMatchObject({
      verdict: 'broken',
      firstBad: { sequence: 4, notAfter: 4, reason: 'entry_differs_from_witness' },
    })
  })

  it('the same entries under another signature of the same size: not the head that was witnessed', async () => {
    const { jws } = signTreeHead({ ...log.witness[3]!.head, timestamp: '2026-11-25T07:59:01.000Z' }, log.signer)
    const lines = edited((all) => (all[headLine(3)] = JSON.stringify({ head: jws })))
    expect((await check(lines, null)).verdict).toBe('intact')
    expect(await check(lines, log.witnessLines())).toMatchObject({
      firstBad: { sequence: 8, notAfter: 10, reason: 'head_differs_from_witness' },
    })
  })

  it('entries swapped between two clinics', async () => {
    const other = new BuiltLog(log.signer).append(10).seal()
    const lines = edited((all) => (all[lineOf(6)] = entryLine(other.entries[5]!.text, other.entries[5]!.leafHash)))
    expect(await check(lines, null)).toMatchObject({ firstBad: { sequence: 6, reason: 'entry_of_another_clinic' } })
    expect(await check(other.export(), log.witnessLines(), other)).toMatchObject({
      verdict: 'broken',
      firstBad: { reason: 'entry_of_another_clinic' },
    })
  })

  it('a head signed by a key that is not trusted', async () => {
    const stranger = new BuiltLog().append(2).seal()
    expect(await check(stranger.export(), null, log)).toMatchObject({
      verdict: 'broken',
      firstBad: { sequence: 1, reason: 'head_not_signed' },
    })
  })

  it('entries that no head covers', async () => {
    const open = new BuiltLog(log.signer).append(2).seal().append(1)
    expect(await check(open.export(), null, open)).toMatchObject({
      verdict: 'broken',
      firstBad: { sequence: 3, reason: 'entry_without_head' },
    })
  })

  it('an entry that says the same in other characters', async () => {
    const spaced = new BuiltLog(log.signer)
    const text = canonicalEntry(entryAt(spaced.clinicId, 1, 1))
      .bytes.toString('utf8')
      .replace('{', '{ ')
    const lines = [...spaced.lines, entryLine(text, hashLeaf(Buffer.from(text)))]
    const report = await verifyExport(lines, { keys: readKeys(JSON.stringify(jwks)), witness: null })
    expect(report.firstBad).toMatchObject({ sequence: 1, reason: 'entry_not_canonical' })
  })

  it('any single character changed anywhere in the file', async () => {
    const lines = log.export()
    const keys = readKeys(JSON.stringify(jwks))
    const witness = await readWitness(log.witnessLines(), keys)
    const text = lines.join('\n')
    // The export's own date is a remark of the exporter and under no signature.
    const free = text.indexOf('"exportedAt"')
    const freeEnd = text.indexOf('\n')
    await fc.assert(
      fc.asyncProperty(fc.nat(text.length - 1), fc.integer({ min: 1, max: 94 }), async (at, shift) => {
        fc.pre(at < free || at > freeEnd)
        const code = text.charCodeAt(at)
        const changed = code === 10 ? ' ' : String.fromCharCode(32 + ((code - 32 + shift) % 95))
        fc.pre(changed !== text[at])
        const tampered = (text.slice(0, at) + changed + text.slice(at + 1)).split('\n')
        expect((await verifyExport(tampered, { keys, witness })).verdict).toBe('broken')
      }),
      { seed: 20261125, numRuns: 400 },
    )
  })
})

describe('epochs', () => {
  const restored = (kept: number, witnessed: number): BuiltLog => {
    const before = new BuiltLog(log.signer, log.clinicId).append(kept).seal()
    const keptRoot = merkleRoot(before.entries.map(({ leafHash }) => leafHash)).toString('hex')
    const linesKept = [...before.lines]
    if (witnessed > kept) before.append(witnessed - kept).seal()
    const lost = before.witness.at(-1)!.head
    before.openEpoch(2, {
      reason: 'restored_from_backup',
      kept: { epoch: 1, size: kept, rootHash: keptRoot },
      witnessed: { epoch: lost.epoch, size: lost.size, rootHash: lost.rootHash },
    })
    const opening = before.lines.at(-1)!
    before.lines.splice(0, before.lines.length, ...linesKept, opening)
    return before.append(2).seal()
  }

  it('with a declared loss are reported as such, never as simply intact', async () => {
    const after = restored(4, 9)
    expect(await check(recounted(after.export()), after.witnessLines(), after)).toMatchObject({
      verdict: 'intact_with_declared_loss',
      epochs: [
        { epoch: 1, size: 4 },
        { epoch: 2, size: 2 },
      ],
      declaredLosses: [{ declaredInEpoch: 2, kept: { size: 4 }, witnessed: { size: 9 } }],
    })
  })

  it('without a loss are intact', async () => {
    const after = restored(4, 4)
    expect(await check(recounted(after.export()), after.witnessLines(), after)).toMatchObject({ verdict: 'intact' })
  })

  it('that keep another log than they say are broken at the first entry that differs in number', async () => {
    const after = restored(4, 9)
    const lines = recounted(after.export())
    const without = recounted(
      lines.filter((line) => !line.includes('\\"epoch\\":1') || !line.includes('\\"sequence\\":4,')),
    )
    expect(await check(without, after.witnessLines(), after)).toMatchObject({
      verdict: 'broken',
      firstBad: { epoch: 1, sequence: 4 },
    })
  })

  it('that were witnessed and are left out altogether are missed', async () => {
    const without = (after: BuiltLog): string[] => recounted([...after.lines.slice(0, 7), ''])
    const nothingLost = restored(4, 4)
    expect(await check(without(nothingLost), nothingLost.witnessLines(), nothingLost)).toMatchObject({
      verdict: 'broken',
      firstBad: { epoch: 2, sequence: 1, reason: 'entry_missing' },
    })
    // Leaving out the epoch that declares a loss brings the loss back as what it is.
    const lost = restored(4, 9)
    expect(await check(without(lost), lost.witnessLines(), lost)).toMatchObject({
      verdict: 'broken',
      firstBad: { epoch: 1, sequence: 5, reason: 'entry_missing' },
    })
  })
})

describe('the witness file', () => {
  const keys = readKeys(JSON.stringify(jwks))
  const lines = log.witnessLines()

  it('may hold the remnant of a write that a crash cut short', async () => {
    const torn = [...lines.slice(0, 2), lines[2]!.slice(0, 60), ...lines.slice(2)]
    expect((await readWitness(torn, keys)).last.size).toBe(10)
    expect(await check(log.export(), torn)).toMatchObject({ verdict: 'intact' })
  })

  it.each([
    ['a line missing', [lines[0]!, lines[1]!, lines[3]!], /a head before it is missing/],
    ['its first line missing', lines.slice(1), /a head before it is missing/],
    ['two lines exchanged', [lines[0]!, lines[2]!, lines[1]!, lines[3]!], /a head before it is missing/],
    ['a line twice', [...lines, lines[3]!], /a head before it is missing/],
    [
      'an edited line that reads as a remnant',
      [lines[0]!, lines[1]!, lines[2]!.slice(1), lines[3]!],
      /a head before it/,
    ],
    [
      'leaf hashes that do not add up',
      [lines[0]!, lines[1]!.replace(/"leafHashes":"./, '"leafHashes":"_'), lines[2]!],
      /do not add up/,
    ],
    [
      'two bytes behind its last leaf hash',
      [lines[0]!, lines[1]!, lines[2]!, lines[3]!.replace(/("leafHashes":"[\w-]*)/, '$1AAA')],
      /not of 32 bytes each/,
    ],
    ['nothing in it', [], /holds no head/],
  ])('with %s can witness nothing', async (_, altered, message) => {
    await expect(readWitness(altered, keys)).rejects.toThrow(message)
    if (altered.length > 0) expect(() => secondOpinion(log.export(), jwks, altered)).toThrow(/^witness: /)
  })
})

describe('the folder', () => {
  it('imports nothing outside itself but node', () => {
    for (const file of ['tree-hash.ts', 'signed-head.ts', 'witness-file.ts', 'verify-export.ts']) {
      const source = readFileSync(new URL(`../../src/ledger/verify/${file}`, import.meta.url), 'utf8')
      for (const [, from] of source.matchAll(/from '([^']+)'/g)) expect(from).toMatch(/^(node:|\.\/)/)
    }
  })

  it.each(['second-verifier.ts', 'second-proof-verifier.ts'])('shares nothing with %s', (file) => {
    const source = readFileSync(new URL(file, import.meta.url), 'utf8')
    expect([...source.matchAll(/from '([^']+)'/g)].map(([, from]) => from)).toEqual(['node:crypto'])
  })
})

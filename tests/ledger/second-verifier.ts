/**
 * A second verifier of audit exports, written from src/ledger/verify/EXPORT-FORMAT.md and from nothing else: it shares
 * no line with the first. Plain and slow: every root is computed anew from all leaves by the recursive definition.
 */
import { createHash, createPublicKey, verify } from 'node:crypto'

export type SecondOpinion = { sound: boolean; lossDeclared: boolean; epoch: number; sequence: number; notAfter: number }

type Payload = {
  clinicId: string
  epoch: number
  size: number
  rootHash: string
  previousHead: string | null
  previousEpoch: null | { kept: Payload; witnessed: Payload }
}

const sha256 = (...parts: Buffer[]): Buffer => createHash('sha256').update(Buffer.concat(parts)).digest()

function root(leaves: Buffer[]): Buffer {
  if (leaves.length === 0) return sha256()
  if (leaves.length === 1) return leaves[0]!
  let k = 1
  while (k * 2 < leaves.length) k *= 2
  return sha256(Buffer.from('01', 'hex'), root(leaves.slice(0, k)), root(leaves.slice(k)))
}

/** What a head says, if one of these keys signed it. */
export function openHead(jws: string, jwks: { keys: Record<string, string>[] }): Payload | null {
  const [header, payload, signature, ...more] = jws.split('.')
  if (header === undefined || payload === undefined || signature === undefined || more.length > 0) return null
  const { alg, kid } = JSON.parse(Buffer.from(header, 'base64url').toString()) as Record<string, string>
  const jwk = jwks.keys.find((key) => key.kid === kid)
  if (alg !== 'Ed25519' || jwk === undefined) return null
  const key = createPublicKey({ key: { kty: 'OKP', crv: 'Ed25519', x: jwk.x! }, format: 'jwk' })
  const genuine = verify(null, Buffer.from(`${header}.${payload}`), key, Buffer.from(signature, 'base64url'))
  return genuine ? (JSON.parse(Buffer.from(payload, 'base64url').toString()) as Payload) : null
}

export function secondOpinion(
  lines: string[],
  jwks: { keys: Record<string, string>[] },
  witnessLines: string[] | null,
): SecondOpinion {
  // The witness first.
  const witnessedLeaves = new Map<number, Buffer[]>()
  const witnessedHeads = new Map<string, string>()
  let lastWitnessed: Payload | null = null
  let previousJws: string | null = null
  for (const line of witnessLines ?? []) {
    let read: { head: string; leafHashes: string }
    try {
      read = JSON.parse(line) as typeof read
    } catch {
      continue
    }
    const { head, leafHashes } = read
    const payload = openHead(head, jwks)
    if (payload === null) throw new Error('witness: head not signed')
    if (payload.previousHead !== (previousJws === null ? null : sha256(Buffer.from(previousJws)).toString('hex'))) {
      throw new Error('witness: chain broken')
    }
    if (payload.clinicId !== (lastWitnessed ?? payload).clinicId) throw new Error('witness: another clinic')
    const before = lastWitnessed
    if (payload.size === 0 && payload.epoch <= (before?.epoch ?? 0)) throw new Error('witness: epoch opened again')
    const admitted = payload.previousEpoch?.witnessed
    if (admitted !== undefined && (admitted.epoch !== before?.epoch || admitted.size !== before.size || admitted.rootHash !== before.rootHash)) throw new Error('witness: another state before') // prettier-ignore
    const leaves = witnessedLeaves.get(payload.epoch) ?? []
    const added = Buffer.from(leafHashes, 'base64url')
    for (let at = 0; at < added.length; at += 32) leaves.push(added.subarray(at, at + 32))
    if (leaves.length !== payload.size || root(leaves).toString('hex') !== payload.rootHash) {
      throw new Error('witness: leaves do not add up')
    }
    witnessedLeaves.set(payload.epoch, leaves)
    witnessedHeads.set(`${payload.epoch}/${payload.size}`, head)
    lastWitnessed = payload
    previousJws = head
  }

  let epoch = 0
  let leaves: Buffer[] = []
  let headSize = 0
  let headJws = ''
  let lossDeclared = false
  let entries = 0
  let heads = 0
  let ended = false

  const bad = (sequence: number, notAfter = sequence, inEpoch = Math.max(epoch, 1)): SecondOpinion => ({
    sound: false,
    lossDeclared,
    epoch: inEpoch,
    sequence,
    notAfter,
  })
  const next = (): SecondOpinion => bad(leaves.length + 1)
  const sinceHead = (): SecondOpinion => bad(headSize + 1, Math.max(headSize + 1, leaves.length))

  let header: Record<string, unknown>
  try {
    header = JSON.parse(lines[0] ?? '') as Record<string, unknown>
  } catch {
    return next()
  }
  if (header.format !== 'limb-ledger-audit-export/1') return next()
  if (lastWitnessed !== null && lastWitnessed.clinicId !== header.clinicId) return next()

  for (const text of lines.slice(1)) {
    if (ended) return next()
    let line: { entry?: string; leafHash?: string; head?: string; end?: { entries: number; heads: number } }
    try {
      line = JSON.parse(text) as typeof line
    } catch {
      return next()
    }
    if (line.entry !== undefined) {
      const hash = sha256(Buffer.from('00', 'hex'), Buffer.from(line.entry, 'utf8'))
      if (hash.toString('hex') !== line.leafHash) return next()
      const entry = JSON.parse(line.entry) as Record<string, unknown>
      if (entry.clinicId !== header.clinicId || entry.epoch !== epoch || entry.sequence !== leaves.length + 1)
        return next()
      const witnessed = witnessedLeaves.get(epoch)?.[leaves.length]
      if (witnessed !== undefined && Buffer.compare(witnessed, hash) !== 0) return next()
      leaves.push(hash)
      entries += 1
    } else if (line.head !== undefined) {
      const head = openHead(line.head, jwks)
      if (head === null || head.clinicId !== header.clinicId) return sinceHead()
      if (head.size === 0) {
        const here = { epoch, size: leaves.length, rootHash: root(leaves).toString('hex') }
        if (head.epoch <= epoch) return next()
        if (head.previousEpoch === null) {
          if (head.epoch !== 1 || epoch !== 0) return next()
        } else {
          const { kept, witnessed } = head.previousEpoch
          if (kept.size !== here.size) return bad(Math.min(kept.size, here.size) + 1)
          if (kept.epoch !== here.epoch || kept.rootHash !== here.rootHash) return sinceHead()
          if (witnessed.epoch !== kept.epoch || witnessed.size > kept.size) lossDeclared = true
        }
        epoch = head.epoch
        leaves = []
        headSize = 0
      } else {
        if (head.epoch !== epoch) return sinceHead()
        if (head.size > leaves.length) return next()
        if (head.size < leaves.length) return sinceHead()
      }
      if (root(leaves).toString('hex') !== head.rootHash) return sinceHead()
      if (head.size > 0 && head.previousHead !== sha256(Buffer.from(headJws)).toString('hex')) return sinceHead()
      const beyond =
        lastWitnessed === null ||
        head.epoch > lastWitnessed.epoch ||
        (head.epoch === lastWitnessed.epoch && head.size > lastWitnessed.size)
      if (!beyond && witnessedHeads.get(`${head.epoch}/${head.size}`) !== line.head) return sinceHead()
      headSize = head.size
      headJws = line.head
      heads += 1
    } else if (line.end !== undefined) {
      if (line.end.entries !== entries || line.end.heads !== heads || heads === 0) return next()
      if (headSize !== leaves.length) return sinceHead()
      for (const [witnessedEpoch, hashes] of witnessedLeaves) {
        if (witnessedEpoch > epoch) return bad(1, 1, witnessedEpoch)
        if (witnessedEpoch === epoch && hashes.length > leaves.length) return next()
      }
      ended = true
    } else return next()
  }
  return ended ? { sound: true, lossDeclared, epoch, sequence: 0, notAfter: 0 } : next()
}

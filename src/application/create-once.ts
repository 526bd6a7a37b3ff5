/**
 * A POST that creates has one effect, however often it is sent: key row, effect and audit event in one transaction.
 * Same key and body: the first answer again. Other body: 422. In flight: 409. A refusal does not use the key up.
 */
import { AppError } from '../domain/errors.ts'
import {
  findKeptAnswer,
  keepAnswer,
  tryLockKey,
  type IdempotencyScope,
  type KeptAnswer,
} from '../store/idempotency-store.ts'
import type { Action } from '../tenancy/policy.ts'
import { withClinic, type ClinicTx } from '../tenancy/with-clinic.ts'
import type { Context } from './context.ts'
import { perform, type Trace } from './perform.ts'

export interface OnceKey {
  /** Method and route template, e.g. "POST /v1/sessions". */
  readonly route: string
  /** The Idempotency-Key header as sent. */
  readonly key: string | undefined
  /** SHA-256 of the raw body: the same content means the same bytes. Taken before the bytes go to a worker. */
  readonly bodyHash: Uint8Array<ArrayBuffer>
}

export interface Created {
  readonly status: 200 | 201
  readonly headers: Record<string, string>
  /** JSON text: a replay is byte-identical. */
  readonly body: string
}

export async function createOnce(
  ctx: Context,
  action: Action,
  once: OnceKey,
  work: (tx: ClinicTx, trace: Trace) => Promise<{ status: 200 | 201; headers: Record<string, string>; body: unknown }>,
): Promise<Created> {
  const scope = scopeOf(ctx, once)
  return perform(ctx, action, async (tx, trace) => {
    if (!(await tryLockKey(tx, scope))) throw new AppError('key_in_flight', { retryAfterSeconds: 1 })
    const kept = await findKeptAnswer(tx, scope, ctx.now)
    if (kept !== null) {
      trace.detail('replayed', true)
      kept.subjectIds.forEach(trace.subject)
      return replay(kept, once.bodyHash)
    }
    const made = await work(tx, trace)
    const body = JSON.stringify(made.body)
    const answer = {
      bodyHash: once.bodyHash,
      status: made.status,
      headers: made.headers,
      response: body,
      subjectIds: trace.subjects(),
    }
    await keepAnswer(tx, scope, answer, ctx.now)
    return { status: made.status, headers: made.headers, body }
  })
}

/** Asked before expensive work: an answer that exists already needs none. The final word is createOnce's. */
export async function alreadyAnswered(ctx: Context, once: OnceKey): Promise<boolean> {
  const scope = scopeOf(ctx, once)
  return withClinic(ctx.db, ctx.actor, async (tx) => (await findKeptAnswer(tx, scope, ctx.now)) !== null)
}

function scopeOf(ctx: Context, once: OnceKey): IdempotencyScope {
  if (once.key === undefined || !/^[\x21-\x7e]{1,200}$/.test(once.key)) {
    throw new AppError('idempotency_key_required', {
      detail: 'Send an Idempotency-Key header of 1 to 200 printable ASCII characters, new for each new document.',
    })
  }
  return { principalId: ctx.actor.principalId, route: once.route, key: once.key }
}

function replay(kept: KeptAnswer, bodyHash: Uint8Array): Created {
  if (!Buffer.from(kept.bodyHash).equals(bodyHash)) throw new AppError('key_reused')
  return {
    status: kept.status === 201 ? 201 : 200,
    headers: { ...kept.headers, 'Idempotency-Replayed': 'true' },
    body: kept.response,
  }
}

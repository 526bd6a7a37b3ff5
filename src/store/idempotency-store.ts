import type { ClinicTx } from '../tenancy/with-clinic.ts'

export interface IdempotencyScope {
  readonly principalId: string
  /** Method and route template: one key may serve two different calls. */
  readonly route: string
  readonly key: string
}

export interface KeptAnswer {
  readonly bodyHash: Uint8Array
  readonly status: number
  readonly headers: Record<string, string>
  readonly response: string
  readonly subjectIds: readonly string[]
}

/** False: a request with this key is in flight. Held until the transaction ends. */
export async function tryLockKey(tx: ClinicTx, scope: IdempotencyScope): Promise<boolean> {
  const name = JSON.stringify([tx.clinicId, scope.principalId, scope.route, scope.key])
  const rows = await tx.$queryRaw<{ locked: boolean }[]>`
    select pg_try_advisory_xact_lock(hashtextextended(${name}, 0)) as locked`
  return rows[0]?.locked === true
}

export async function findKeptAnswer(tx: ClinicTx, scope: IdempotencyScope, now: Date): Promise<KeptAnswer | null> {
  const row = await tx.idempotency.findUnique({
    where: { clinicId_principalId_route_key: { clinicId: tx.clinicId, ...scope } },
  })
  if (row === null || row.expiresAt <= now) return null
  return { ...row, headers: row.headers as Record<string, string> }
}

const KEPT_MS = 72 * 60 * 60 * 1000

/** Replaces an expired answer under the same key; sweeps a few others so that the table does not only grow. */
export async function keepAnswer(tx: ClinicTx, scope: IdempotencyScope, answer: KeptAnswer, now: Date): Promise<void> {
  const expiresAt = new Date(now.getTime() + KEPT_MS)
  await tx.$executeRaw`
    delete from idempotency
    where clinic_id = ${tx.clinicId}::uuid and principal_id = ${scope.principalId}::uuid and route = ${scope.route}
      and key = ${scope.key} and expires_at <= ${now}`
  // One sweeper for a clinic at a time, so that two never wait for each other's rows.
  await tx.$executeRaw`
    with expired as (
      select route, principal_id, key from idempotency
      where clinic_id = ${tx.clinicId}::uuid and expires_at <= ${now}
        and (select pg_try_advisory_xact_lock(hashtextextended(${`sweep ${tx.clinicId}`}, 0)))
      order by expires_at limit 20
    )
    delete from idempotency i using expired e
    where i.clinic_id = ${tx.clinicId}::uuid and i.principal_id = e.principal_id and i.route = e.route and i.key = e.key`
  await tx.$executeRaw`
    insert into idempotency (clinic_id, principal_id, route, key, body_hash, status, headers, response, subject_ids, created_at, expires_at)
    values (${tx.clinicId}::uuid, ${scope.principalId}::uuid, ${scope.route}, ${scope.key}, ${answer.bodyHash},
            ${answer.status}, ${JSON.stringify(answer.headers)}::jsonb, ${answer.response},
            ${[...answer.subjectIds]}::uuid[], ${now}, ${expiresAt})`
}

/**
 * The frame of every use case: may this actor do it, then effect and audit event in one transaction.
 * If the event can't be written nothing is shown and nothing stored (503). A refusal is an event of its own.
 */
import { v7 as uuidv7 } from 'uuid'
import { AppError } from '../domain/errors.ts'
import { appendAuditEvent, type AuditEntry } from '../store/audit-store.ts'
import { authorise, type Action } from '../tenancy/policy.ts'
import { isUniqueViolation, withClinic, type ClinicTx } from '../tenancy/with-clinic.ts'
import type { Context } from './context.ts'

/** What a use case says about itself while it runs; becomes the audit event. */
export interface Trace {
  /** A subject whose data were shown or changed. */
  readonly subject: (subjectId: string) => void
  readonly subjects: () => readonly string[]
  readonly resource: (kind: string, id: string) => void
  readonly detail: (key: string, value: string | number | boolean) => void
}

class TraceBook implements Trace {
  readonly subjectIds = new Set<string>()
  readonly resourceIds = new Set<string>()
  readonly details: Record<string, string | number | boolean> = {}
  subject = (subjectId: string): void => void this.subjectIds.add(subjectId)
  subjects = (): readonly string[] => [...this.subjectIds]
  resource = (kind: string, id: string): void => void this.resourceIds.add(`${kind}/${id}`)
  detail = (key: string, value: string | number | boolean): void => void (this.details[key] = value)
}

export async function perform<T>(
  ctx: Context,
  action: Action,
  work: (tx: ClinicTx, trace: Trace) => Promise<T>,
): Promise<T> {
  let book = new TraceBook()
  try {
    authorise(ctx.actor, action)
    return await againIfOvertaken(() =>
      withClinic(ctx.db, ctx.actor, async (tx) => {
        book = new TraceBook()
        const answer = await work(tx, book)
        await append(tx, entryOf(ctx, action, 'done', book))
        return answer
      }),
    )
  } catch (error) {
    if (error instanceof AppError) await recordRefusal(ctx, action, error, book)
    throw error
  }
}

/** Two requests make the same thing at once: the later one, run again, finds it made and answers as if it had come after. */
async function againIfOvertaken<T>(run: () => Promise<T>): Promise<T> {
  try {
    return await run()
  } catch (error) {
    if (!isUniqueViolation(error)) throw error
    return run()
  }
}

/** Refusals already in the log: a face that catches one again must not write it twice. */
const recorded = new WeakSet<AppError>()

/** A refusal found before or outside the transaction (a role, a query, a document with faults): audited alone, once. */
export async function recordRefusal(ctx: Context, action: Action, error: AppError, book?: TraceBook): Promise<void> {
  if (error.status >= 500 || recorded.has(error)) return
  recorded.add(error)
  const entry = entryOf(ctx, action, 'refused', book ?? new TraceBook())
  const refused = { ...entry, details: { ...entry.details, code: error.code } }
  await withClinic(ctx.db, ctx.actor, (tx) => append(tx, refused))
}

function entryOf(ctx: Context, action: Action, outcome: AuditEntry['outcome'], book: TraceBook): AuditEntry {
  return {
    id: uuidv7(),
    actorPrincipalId: ctx.actor.principalId,
    actorRole: ctx.actor.role,
    client: ctx.actor.client,
    purpose: ctx.purpose,
    action,
    outcome,
    requestId: ctx.requestId,
    subjectIds: [...book.subjectIds],
    resourceIds: [...book.resourceIds],
    details: book.details,
  }
}

async function append(tx: ClinicTx, entry: AuditEntry): Promise<void> {
  try {
    await appendAuditEvent(tx, entry)
  } catch (cause) {
    throw new AppError('audit_unavailable', { retryAfterSeconds: 5, internal: String(cause), cause })
  }
}

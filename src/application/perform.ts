/**
 * The frame of every use case: may this actor do it, then effect and audit event in one transaction.
 * If the event can't be written nothing is shown and nothing stored (503). A refusal is an event of its own.
 */
import { v7 as uuidv7 } from 'uuid'
import { AppError } from '../domain/errors.ts'
import { isClientId, makeAuditEvent, type AuditEvent } from '../ledger/canonical-event.ts'
import { appendAuditEvent } from '../store/audit-store.ts'
import { authorise, type Action, type Attempt } from '../tenancy/policy.ts'
import { isForeignKeyViolation, isUniqueViolation, withClinic, type ClinicTx } from '../tenancy/with-clinic.ts'
import { encryptPersonalTexts, type PersonalText } from './audit/personal-texts.ts'
import type { Context } from './context.ts'

/** What a use case says about itself while it runs; becomes the audit event. Words from lists and ids, never people's. */
export interface Trace {
  /** A subject whose data were shown or changed. */
  readonly subject: (subjectId: string) => void
  readonly subjects: () => readonly string[]
  readonly resource: (kind: string, id: string) => void
  readonly detail: (key: string, value: string | number | boolean) => void
  /** A text about a person, kept under that person's key. */
  readonly personal: (field: string, subjectId: string, text: string) => void
}

class TraceBook implements Trace {
  readonly subjectIds = new Set<string>()
  readonly resourceIds = new Set<string>()
  readonly details: Record<string, string | number | boolean> = {}
  readonly personalTexts: PersonalText[] = []
  subject = (subjectId: string): void => void this.subjectIds.add(subjectId.toLowerCase())
  subjects = (): readonly string[] => [...this.subjectIds]
  resource = (kind: string, id: string): void => void this.resourceIds.add(`${kind}/${id}`)
  detail = (key: string, value: string | number | boolean): void => void (this.details[key] = value)
  personal = (field: string, subjectId: string, text: string): void =>
    void this.personalTexts.push({ field, subjectId, text })
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
        await append(tx, ctx, eventOf(ctx, action, 'done', book), book.personalTexts)
        return answer
      }),
    )
  } catch (error) {
    if (error instanceof AppError) await recordRefusal(ctx, action, error, book)
    throw error
  }
}

/**
 * Two requests make the same thing at once, or one uses what another is erasing: the later one, run again, finds the
 * thing made or gone and answers as if it had come after.
 */
async function againIfOvertaken<T>(run: () => Promise<T>): Promise<T> {
  try {
    return await run()
  } catch (error) {
    if (!isUniqueViolation(error) && !isForeignKeyViolation(error)) throw error
    return run()
  }
}

/** Refusals already in the log: a face that catches one again must not write it twice. */
const recorded = new WeakSet<AppError>()
export const isRecorded = (error: AppError): boolean => recorded.has(error)

/** A refusal found before or outside the transaction (a role, a query, a document with faults): audited alone, once. */
export async function recordRefusal(ctx: Context, action: Attempt, error: AppError, book?: TraceBook): Promise<void> {
  if (error.status >= 500 || recorded.has(error)) return
  recorded.add(error)
  const event = eventOf(ctx, action, 'refused', book ?? new TraceBook(), { code: error.code })
  await withClinic(ctx.db, ctx.actor, (tx) => append(tx, ctx, event, []))
}

/** A fault of ours: nothing was shown or stored, and the answer says so; the log says that it was asked. */
export async function recordFailure(ctx: Context, action: Attempt): Promise<void> {
  const event = eventOf(ctx, action, 'failed', new TraceBook())
  await withClinic(ctx.db, ctx.actor, (tx) => append(tx, ctx, event, []))
}

type Outcome = 'done' | 'refused' | 'failed'

function eventOf(
  ctx: Context,
  action: Attempt,
  outcome: Outcome,
  book: TraceBook,
  more: Record<string, string> = {},
): AuditEvent & { readonly outcome: Outcome } {
  const { actor, purpose, requestId } = ctx
  const event = makeAuditEvent({
    clinicId: actor.clinicId,
    id: uuidv7(),
    actorPrincipalId: actor.principalId,
    actorRole: actor.role,
    // A trusted issuer may call its clients what it likes; a sentence is no client id, so the event names none.
    client: actor.client !== null && isClientId(actor.client) ? actor.client : null,
    purpose,
    action,
    outcome,
    requestId,
    subjectIds: [...book.subjectIds],
    resourceIds: [...book.resourceIds],
    details: { ...book.details, ...more },
  })
  return { ...event, outcome }
}

async function append(
  tx: ClinicTx,
  ctx: Context,
  event: AuditEvent & { readonly outcome: Outcome },
  texts: readonly PersonalText[],
): Promise<void> {
  try {
    const personal = await encryptPersonalTexts(tx, ctx.subjectKeys, event.id, texts)
    await appendAuditEvent(tx, { ...event, details: { ...(event.details as object), ...personal } })
  } catch (cause) {
    throw new AppError('audit_unavailable', { retryAfterSeconds: 5, internal: String(cause), cause })
  }
}

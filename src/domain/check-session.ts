/** A parsed JSON value to a session document, or every fault in it (first 100). */
import type { FieldFault } from './errors.ts'
import { MAX_FAULTS } from './errors.ts'
import { toFaults } from './faults.ts'
import { amendmentDocument, sessionDocument } from './session-document.ts'
import type { SessionDocument } from './session-document.ts'
import { sessionRuleFaults } from './session-rules.ts'

/** A session pushed on its own, or inside an amendment beside its reason. */
export type SessionEnvelope = 'session' | 'amendment'

export type CheckedSession =
  | { readonly ok: true; readonly session: SessionDocument; readonly amendmentReason: string | null }
  | { readonly ok: false; readonly faults: readonly FieldFault[] }

/** `now`: the clock that times are held against; absent: none. */
export function checkSession(document: unknown, envelope: SessionEnvelope, now?: Date): CheckedSession {
  if (envelope === 'amendment') {
    const parsed = amendmentDocument.safeParse(document)
    const rules = sessionRuleFaults(sessionOf(document), ['session'], now)
    if (parsed.success && rules.length === 0) {
      return { ok: true, session: parsed.data.session, amendmentReason: parsed.data.reason }
    }
    return refuse(parsed.success ? [] : toFaults(parsed.error, document), rules)
  }
  const parsed = sessionDocument.safeParse(document)
  const rules = sessionRuleFaults(document, [], now)
  if (parsed.success && rules.length === 0) return { ok: true, session: parsed.data, amendmentReason: null }
  return refuse(parsed.success ? [] : toFaults(parsed.error, document), rules)
}

/** The member `session` of an amendment; undefined where there is none, which the shape reports. */
export function sessionOf(amendment: unknown): unknown {
  return typeof amendment === 'object' && amendment !== null ? (amendment as { session?: unknown }).session : undefined
}

/** Shape and rules can both miss the same field: it is said once. */
function refuse(shape: readonly FieldFault[], rules: readonly FieldFault[]): CheckedSession {
  const seen = new Set<string>()
  const faults = [...shape, ...rules].filter(({ pointer, code }) => {
    const identity = `${code} ${pointer}`
    return !seen.has(identity) && seen.add(identity)
  })
  return { ok: false, faults: faults.slice(0, MAX_FAULTS) }
}

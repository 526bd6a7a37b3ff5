/** Everything about one subject as one JSON archive, written piece by piece: years of recordings need little memory. */
import { listAuditEvents, subjectEverKnown } from '../../store/audit-store.ts'
import { loadRecording } from '../../store/recording-store.ts'
import {
  listSubjectRecordings,
  loadSubjectRows,
  SUBJECT_TABLES,
  type ArchiveSection,
} from '../../store/subject-archive-store.ts'
import { loadSubject } from '../../store/subject-store.ts'
import { withClinic, type ClinicTx } from '../../tenancy/with-clinic.ts'
import type { Context } from '../context.ts'
import { teamOfEvents } from '../audit/team-of-event.ts'
import { perform } from '../perform.ts'
import type { RecordingHeader } from '../prepare-session/stored-recording.ts'
import { orNotFound } from '../shared/existing.ts'

const SECTIONS = Object.keys(SUBJECT_TABLES) as ArchiveSection[]
const EVENTS_A_PAGE = 200

/** The event of the export is committed before its first byte leaves. */
export async function exportSubject(ctx: Context, input: { subjectId: string }): Promise<AsyncIterable<string>> {
  await perform(ctx, 'subjects.export', async (tx, trace) => {
    orNotFound(await loadSubject(tx, input.subjectId, ctx.now))
    trace.subject(input.subjectId)
  })
  return archive(ctx, input.subjectId)
}

async function* archive(ctx: Context, subjectId: string): AsyncGenerator<string> {
  const read = <T>(work: (tx: ClinicTx) => Promise<T>): Promise<T> => withClinic(ctx.db, ctx.actor, work)
  const head = { format: 'limb-ledger-subject-export/1', subjectId, clinic: { id: ctx.actor.clinicId, name: ctx.actor.clinicName }, exportedAt: ctx.now.toISOString() } // prettier-ignore
  yield `${JSON.stringify(head).slice(0, -1)}`
  for (const section of SECTIONS)
    yield `,\n${JSON.stringify(section)}:${JSON.stringify(await read((tx) => loadSubjectRows(tx, section, subjectId)))}`

  yield ',\n"recordings":['
  let comma = ''
  for (const sha256 of await read((tx) => listSubjectRecordings(tx, subjectId))) {
    const row = await read((tx) => loadRecording(tx, new Uint8Array(Buffer.from(sha256, 'hex'))))
    // Erased while we were reading.
    if (row === null) continue
    const task = { bytes: row.bytes, header: row.header as RecordingHeader, sha256, form: 'json', about: {} } as const
    yield comma
    yield Buffer.from(await ctx.pool.print(task)).toString('utf8')
    comma = ','
  }
  yield '],\n"disclosures":['
  comma = ''
  for (let after: string | null = null; ;) {
    const { page, teamOf } = await read(async (tx) => ({
      page: await listAuditEvents(tx, { ...ANYTHING, subjectId }, { after, take: EVENTS_A_PAGE }),
      teamOf: await teamOfEvents(tx),
    }))
    for (const event of page) {
      const { at, actorName, actorRole, client, purpose, action, requestId, id } = event
      const team = teamOf(event)
      yield `${comma}${JSON.stringify({ at, actorName, actorRole, client, team, purpose, action, requestId, eventId: id })}`
      comma = ','
    }
    const last = page.at(-1)
    if (page.length < EVENTS_A_PAGE || last === undefined) break
    after = last.id
  }
  const erased = await read((tx) => subjectEverKnown(tx, subjectId))
  // Says so, instead of looking whole: what was erased meanwhile is missing above.
  yield `],\n"complete":${JSON.stringify(erased?.erasedAt === null ? 'yes' : 'no_erased_meanwhile')}}\n`
}

const ANYTHING = { actorPrincipalId: null, action: null, outcome: 'done', requestId: null, from: null, to: null }

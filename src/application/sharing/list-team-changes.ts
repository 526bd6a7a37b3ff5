/**
 * What changed for a team since it last asked: reports that appeared, and one kind of tombstone for what went, whatever the
 * cause. A transaction may be seen later than its time says, so the cursor of a last page stays behind by more than the
 * longest transaction takes: a change may come twice and is never left out. Each says the whole state of its report.
 */
import { AppError } from '../../domain/errors.ts'
import { loadChanges } from '../../store/team-store.ts'
import { performForTeam, type TeamContext } from './perform-for-team.ts'
import { disclosuresOf, loadTeamView, teamRow, type TeamRow } from './team-rows.ts'

const OVERLAP_MS = 15_000
const NO_ID = '00000000-0000-0000-0000-000000000000'

type TeamChange = { readonly change: 'gone'; readonly reportId: string } | ({ readonly change: 'report' } & TeamRow)

interface Cursor {
  readonly at: Date
  readonly id: string
}

export async function listTeamChanges(ctx: TeamContext, input: { since: string | null; limit: number }) {
  const since = input.since === null ? { at: new Date(0), id: NO_ID } : decode(input.since)
  return performForTeam(ctx, 'team.reports.list', async (tx) => {
    const changes = await loadChanges(tx, since, input.limit + 1)
    const page = changes.slice(0, input.limit)
    const there = page.filter((change) => !change.gone).map(({ id }) => id)
    const { consents, records } = await loadTeamView(tx, ctx.now, there)
    const byId = new Map(records.map((record) => [record.shared.id, record]))
    const items = page.flatMap(({ id, gone }): TeamChange[] => {
      if (gone) return [{ change: 'gone', reportId: id }]
      const record = byId.get(id)
      // Under a consent that does not name this purpose.
      return record === undefined ? [] : [{ change: 'report', ...teamRow(record) }]
    })
    const last = page.at(-1)
    const more = changes.length > page.length && last !== undefined
    const next = more ? last : settled(ctx.now, since)
    return {
      answer: { items, more, nextSince: encode(next) },
      disclosed: disclosuresOf(consents, records),
      details: { gone: page.filter((change) => change.gone).length },
    }
  })
}

/** Never behind where the caller has been already. */
function settled(now: Date, since: Cursor): Cursor {
  const at = new Date(now.getTime() - OVERLAP_MS)
  return at > since.at ? { at, id: NO_ID } : since
}

const encode = ({ at, id }: Cursor): string => Buffer.from(`t1 ${at.toISOString()} ${id}`).toString('base64url')

function decode(text: string): Cursor {
  const [, at, id] = /^t1 (\S+) ([0-9a-f-]{36})$/.exec(Buffer.from(text, 'base64url').toString('utf8')) ?? []
  const instant = new Date(at ?? '')
  if (id === undefined || Number.isNaN(instant.getTime())) throw new AppError('invalid_cursor')
  return { at: instant, id }
}

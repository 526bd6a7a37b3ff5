import { AppError } from '../../domain/errors.ts'
import { TEAM_NOTES } from '../reports/project-report.ts'
import { performForTeam, type TeamContext } from './perform-for-team.ts'
import { disclosuresOf, loadTeamView, teamRow, type TeamRecord } from './team-rows.ts'

/** The latest report of each of the team's own references, whichever clinic signed it. */
export async function readSquad(ctx: TeamContext, input: { form: 'json' | 'csv' }) {
  return performForTeam(ctx, 'team.squad.read', async (tx) => {
    const { consents, records } = await loadTeamView(tx, ctx.now, null)
    if (consents.length === 0) throw new AppError('purpose_not_agreed')
    const latest = latestPerReference(records)
    const answer = {
      team: { name: ctx.actor.teamName },
      asOf: ctx.now.toISOString(),
      rows: latest.map(teamRow),
      notes: TEAM_NOTES,
    }
    return { answer, disclosed: disclosuresOf(consents, latest), details: { form: input.form } }
  })
}

export type Squad = Awaited<ReturnType<typeof readSquad>>

/** Latest by the day evaluated, then by the moment signed: a report signed late about an early day is not the latest. */
function latestPerReference(records: readonly TeamRecord[]): readonly TeamRecord[] {
  const ordered = records.slice().sort((a, b) => {
    const [x, y] = [a.shared, b.shared]
    return y.evaluatedOn.localeCompare(x.evaluatedOn) || y.signedAt.getTime() - x.signedAt.getTime()
  })
  const latest = new Map<string, TeamRecord>()
  for (const record of ordered) {
    const { teamReference } = record.consent
    if (!latest.has(teamReference)) latest.set(teamReference, record)
  }
  return [...latest.values()].sort((a, b) => (a.consent.teamReference < b.consent.teamReference ? -1 : 1))
}

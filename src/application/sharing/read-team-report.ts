import { orNotFound } from '../shared/existing.ts'
import { performForTeam, type TeamContext } from './perform-for-team.ts'
import { disclosuresOf, loadTeamView, teamRow } from './team-rows.ts'

/** One report with its signature, so that it can be verified without us. Revoked, ended, withdrawn, never there: one 404. */
export async function readTeamReport(ctx: TeamContext, input: { projectionId: string; form: 'json' | 'jws' }) {
  return performForTeam(ctx, 'team.reports.read', async (tx) => {
    const { consents, records } = await loadTeamView(tx, ctx.now, [input.projectionId])
    const record = orNotFound(records[0])
    const { body, jws } = record.shared
    const answer = { ...teamRow(record), report: body as Record<string, unknown>, jws }
    const own = consents.filter(({ clinicId }) => clinicId === record.shared.clinicId)
    return { answer, disclosed: disclosuresOf(own, [record]), details: { form: input.form } }
  })
}

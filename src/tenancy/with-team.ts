/**
 * The first lock on the side of the teams: the only maker of a TeamTx. It runs on connections of a database role of its own,
 * which is granted no table of a clinic but consents to a team, what is laid out under them, and when that went; the policies
 * on those rows read the team and the purpose that are set here.
 */
import type { Prisma } from '../store/generated/client.ts'
import type { TeamActor } from './actor.ts'
import type { TeamDatabase } from './database.ts'
import { asDatabaseError } from './with-clinic.ts'

declare const teamTx: unique symbol

/** Raw statements alone: the role may read columns, and a model of Prisma asks for whole rows. */
export type TeamTx = Pick<Prisma.TransactionClient, '$queryRaw' | '$executeRaw'> & {
  readonly [teamTx]: true
  readonly teamId: string
  readonly purpose: string
}

export async function withTeam<T>(
  db: TeamDatabase,
  actor: Pick<TeamActor, 'teamId'>,
  purpose: string,
  work: (tx: TeamTx) => Promise<T>,
): Promise<T> {
  const transaction = () =>
    db.unsafeClient.$transaction(
      async (tx) => {
        await tx.$queryRaw`
          select set_config('app.team_id', ${actor.teamId}, true), set_config('app.purpose', ${purpose}, true)`
        return await work(Object.create(tx, { teamId: { value: actor.teamId }, purpose: { value: purpose } }) as TeamTx)
      },
      { maxWait: 1_000, timeout: 10_000 },
    )
  try {
    return await (db.inTurn?.(transaction) ?? transaction())
  } catch (error) {
    throw asDatabaseError(error)
  }
}

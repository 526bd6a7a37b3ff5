import type { FlagWrite } from '../../store/flag-store.ts'
import type { ClinicTx } from '../../tenancy/with-clinic.ts'
import type { Context } from '../context.ts'
import type { PreparedSession } from '../prepare-session/prepared-session.ts'
import type { SessionPlace } from './resolve-place.ts'
import type { SessionContent } from './session-content.ts'

export function sessionHazards(
  _tx: ClinicTx,
  _ctx: Context,
  _prepared: PreparedSession,
  _place: SessionPlace,
  _content: SessionContent,
): Promise<FlagWrite[]> {
  return Promise.resolve([])
}

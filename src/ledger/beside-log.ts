/**
 * What lists of the log are made from and no hash covers: which subjects an event is listed under, and the place that it
 * is said to stand at. Whoever can write every table could hide a reading there from the accounting of disclosures, or
 * make one up, with every entry of the log as it was.
 */
import type { Sql } from './ledger-rows.ts'

/** Events (the first `limit`) that are listed under other subjects than they name, or at a place that no head covers. */
export async function eventsShownOtherwise(sql: Sql, clinicId: string, limit: number): Promise<string[]> {
  // Two statements: joined into one, each of a million leaves is read for nothing.
  const underOthers = await sql.query<{ id: string }>(
    `select e.id from audit_event e
     left join audit_disclosure d on d.clinic_id = e.clinic_id and d.event_id = e.id
     where e.clinic_id = $1 group by e.clinic_id, e.id
     having count(d.event_id) <> coalesce(cardinality(e.subject_ids), 0)
         or bool_or(not d.subject_id = any (e.subject_ids)) filter (where d.event_id is not null)
     limit $2`,
    [clinicId, limit],
  )
  const atNoPlace = await sql.query<{ id: string }>(
    `select event_id as id from audit_leaf
     where clinic_id = $1 and (seq < 1 or epoch not in (select epoch from tree_head where clinic_id = $1)) limit $2`,
    [clinicId, limit],
  )
  return [...new Set([...underOthers.rows, ...atNoPlace.rows].map(({ id }) => id))].slice(0, limit)
}

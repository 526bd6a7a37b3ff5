/**
 * What lists of the log are made from and no hash covers: which subjects an event is listed under, and the place that it
 * is said to stand at. Whoever can write every table could hide a reading there from the accounting of disclosures, or
 * make one up, with every entry of the log as it was.
 */
import type { Sql } from './ledger-rows.ts'

/** Events (the first `limit`) that are listed under other subjects than they name, or at a place that no head covers. */
export async function eventsShownOtherwise(sql: Sql, clinicId: string, limit: number): Promise<string[]> {
  const { rows } = await sql.query<{ id: string }>(
    `with listed as (
       select event_id, array_agg(subject_id order by subject_id) as subject_ids
       from audit_disclosure where clinic_id = $1 group by event_id
     )
     select e.id from audit_event e
     left join listed d on d.event_id = e.id
     left join audit_leaf l on l.clinic_id = e.clinic_id and l.event_id = e.id
     where e.clinic_id = $1 and (
       coalesce(e.subject_ids, '{}') <> coalesce(d.subject_ids, '{}')
       or l.seq < 1 or l.epoch not in (select epoch from tree_head where clinic_id = $1))
     order by e.xid, e.ord limit $2`,
    [clinicId, limit],
  )
  return rows.map(({ id }) => id)
}

/**
 * Days in the month that slopes are given in: UCUM `mo` is the Julian month (mo_j), a twelfth of 365.25 days.
 * Source: UCUM specification, table 4.2 (units of time).
 */
export const DAYS_PER_MONTH = 30.4375

/**
 * Number of a calendar day, for differences in whole days between the local dates of tests.
 *
 * What for: the time axis of a trend. The date where the test took place counts, not the hour: a trend over months gains nothing from
 * hours, and a change of the clock must not move it. Takes an ISO date or date-time and reads its first ten characters, so the local date of a
 * time with offset. Units: days since 1970-01-01. Errors: RangeError for anything else.
 * Source: proleptic Gregorian calendar, ISO 8601. Limits: days, not hours; no time zone.
 * @example calendarDayNumber('2026-11-17T09:05:00+01:00') - calendarDayNumber('2026-05-12') // 189
 */
export function calendarDayNumber(isoDate: string): number {
  const match = /^(\d{4})-(\d{2})-(\d{2})(?:T|$)/.exec(isoDate)
  if (match === null) throw new RangeError('an ISO 8601 date or date-time is expected')
  const [year, month, day] = [Number(match[1]), Number(match[2]), Number(match[3])]
  const milliseconds = Date.UTC(year, month - 1, day)
  const back = new Date(milliseconds)
  if (back.getUTCMonth() !== month - 1 || back.getUTCDate() !== day) throw new RangeError('no such calendar day')
  return milliseconds / 86_400_000
}

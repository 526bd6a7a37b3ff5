/** Dates as written, without clock or time zone: pure arithmetic on the civil calendar. */

const MS_PER_DAY = 86_400_000

/** Days since 1970-01-01 of a YYYY-MM-DD date. RangeError for anything else, 30 February included. */
export function dayNumber(date: string): number {
  const parts = /^(\d{4})-(\d{2})-(\d{2})$/u.exec(date)
  const [year, month, day] = [Number(parts?.[1]), Number(parts?.[2]), Number(parts?.[3])]
  const time = Date.UTC(year, month - 1, day)
  if (parts === null || new Date(time).toISOString().slice(0, 10) !== date) {
    throw new RangeError(`"${date}" is not a date of the form YYYY-MM-DD`)
  }
  return time / MS_PER_DAY
}

/** YYYY-MM-DD of a day number. */
export function dateOfDay(day: number): string {
  return new Date(day * MS_PER_DAY).toISOString().slice(0, 10)
}

/** Milliseconds of an ISO 8601 instant with offset, for ordering only. RangeError where the offset is missing. */
export function instantOf(performedAt: string): number {
  const time = /^\d{4}-\d{2}-\d{2}T.*(Z|[+-]\d{2}:\d{2})$/u.test(performedAt) ? Date.parse(performedAt) : Number.NaN
  if (Number.isNaN(time)) throw new RangeError(`"${performedAt}" is not an ISO 8601 instant with offset`)
  return time
}

/** The date on the wall where it was done: the first ten characters as written. */
export function localDay(performedAt: string): number {
  return dayNumber(performedAt.slice(0, 10))
}

/**
 * Calendar months from one date to a later one, with the fraction of the month begun: exactly 9 on the ninth monthly
 * anniversary, however long the months were. An anniversary that does not exist (31 June) falls on the last day of that month.
 */
export function monthsBetween(from: string, to: string): number {
  const end = dayNumber(to)
  let whole =
    (Number(to.slice(0, 4)) - Number(from.slice(0, 4))) * 12 + Number(to.slice(5, 7)) - Number(from.slice(5, 7))
  if (anniversary(from, whole) > end) whole--
  const begun = anniversary(from, whole)
  return whole + (end - begun) / (anniversary(from, whole + 1) - begun)
}

function anniversary(from: string, months: number): number {
  const first = Date.UTC(Number(from.slice(0, 4)), Number(from.slice(5, 7)) - 1 + months, 1)
  const lastDay = new Date(
    Date.UTC(new Date(first).getUTCFullYear(), new Date(first).getUTCMonth() + 1, 0),
  ).getUTCDate()
  return first / MS_PER_DAY + Math.min(Number(from.slice(8, 10)), lastDay) - 1
}

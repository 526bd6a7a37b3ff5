/** Days by the calendar of a clinic, and the instants at which they begin. */

/** ISO date of an instant in a time zone. */
export const dayIn = (timeZone: string, at: Date): string => new Intl.DateTimeFormat('en-CA', { timeZone }).format(at)

export function dayAfter(day: string, days = 1): string {
  return new Date(Date.parse(`${day}T00:00:00Z`) + days * 86_400_000).toISOString().slice(0, 10)
}

/**
 * The first instant of a day in a time zone. Where clocks are put forward at midnight the day begins at one o'clock. Looked for
 * in the 28 hours in which a day can begin anywhere, by the quarter hours in which offsets come.
 */
export function startOfDay(timeZone: string, day: string): Date {
  const earliest = Date.parse(`${day}T00:00:00Z`) - 14 * 3_600_000
  const quarter = 15 * 60_000
  let low = 0
  let high = (28 * 3_600_000) / quarter
  while (low < high) {
    const middle = Math.floor((low + high) / 2)
    if (dayIn(timeZone, new Date(earliest + middle * quarter)) >= day) high = middle
    else low = middle + 1
  }
  return new Date(earliest + low * quarter)
}

/** Completed years on a day, both as ISO dates. */
export function ageOn(birthDate: string, day: string): number {
  const years = Number(day.slice(0, 4)) - Number(birthDate.slice(0, 4))
  return day.slice(5) < birthDate.slice(5) ? years - 1 : years
}

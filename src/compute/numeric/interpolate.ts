/**
 * Value of a table by a straight line between its points; null outside it, never extrapolated.
 *
 * `x` ascending. Binary search. Errors: RangeError for lists of different length or an empty table.
 *
 * @example interpolateAscending([58, 59, 61, 62], [150, 152, 156, 158], 60) // 154
 */
export function interpolateAscending(x: ArrayLike<number>, y: ArrayLike<number>, at: number): number | null {
  if (x.length !== y.length || x.length === 0) throw new RangeError('a table needs as many values as points')
  let low = 0
  let high = x.length - 1
  if (!(at >= x[low]! && at <= x[high]!)) return null
  while (high - low > 1) {
    const middle = (low + high) >> 1
    if (x[middle]! <= at) low = middle
    else high = middle
  }
  const width = x[high]! - x[low]!
  return width > 0 ? y[low]! + ((at - x[low]!) / width) * (y[high]! - y[low]!) : y[low]!
}

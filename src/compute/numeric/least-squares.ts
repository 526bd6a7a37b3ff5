import { mean, sum, sumOfSquaredDeviations } from './descriptive.ts'

export interface LeastSquaresFit {
  readonly coefficients: readonly number[]
  readonly residualSumOfSquares: number
  /** Rows minus columns. */
  readonly degreesOfFreedom: number
  /** Diagonal of (X'X)^-1: times the error variance it is the variance of each coefficient. */
  readonly varianceFactors: readonly number[]
}

/** A column counts as dependent when what is left of it after the earlier ones is below this share of its length. */
const RANK_TOLERANCE = 1e-10

/**
 * Least squares for a handful of coefficients (Householder QR: the normal equations would square the condition number).
 *
 * What for: a limb-weighing curve A cos + B sin, an axis offset, a straight line. Formula in words: the coefficients that make
 * the sum of squared differences between data and design times coefficients smallest. Units: those of data per design column.
 * Answers null where the columns do not determine the coefficients (fewer rows than columns, or dependent columns): bad data, not
 * a caller's mistake. Errors: RangeError for ragged rows, unequal lengths or non-finite numbers.
 * Source: Golub & Van Loan, Matrix Computations, ch. 5. When not to use it: many columns or large n; outliers.
 * @example leastSquares([[1, 0], [1, 1], [1, 2]], [1, 3, 5])?.coefficients // [1, 2]
 */
export function leastSquares(design: readonly (readonly number[])[], data: readonly number[]): LeastSquaresFit | null {
  const rows = design.length
  const columns = design[0]?.length ?? 0
  if (rows !== data.length) throw new RangeError('design and data differ in length')
  if (columns === 0) throw new RangeError('a design has at least one row and one column')
  const work = design.map((row, i) => {
    if (row.length !== columns) throw new RangeError(`design row ${i} has another length`)
    const extended = [...row, data[i] as number]
    if (!extended.every(Number.isFinite)) throw new RangeError(`row ${i} holds a number that is not finite`)
    return Float64Array.from(extended)
  })
  if (rows < columns) return null
  const entry = (i: number, j: number): number => (work[i] as Float64Array)[j] as number
  for (let j = 0; j < columns; j++) {
    const columnLength = Math.hypot(...design.map((row) => row[j] as number))
    const rest = Math.hypot(...work.slice(j).map((row) => row[j] as number))
    if (!(rest > RANK_TOLERANCE * columnLength)) return null
    // The reflection maps the rest of column j to a multiple of the unit vector; the sign avoids cancellation.
    const pivot = entry(j, j) > 0 ? -rest : rest
    const v = work.slice(j).map((row) => row[j] as number)
    v[0] = (v[0] as number) - pivot
    const squared = sum(v.map((value) => value * value))
    for (let k = j; k <= columns; k++) {
      const factor = (2 * sum(v.map((value, i) => value * entry(j + i, k)))) / squared
      for (let i = 0; i < v.length; i++) (work[j + i] as Float64Array)[k] = entry(j + i, k) - factor * (v[i] as number)
    }
  }
  const solve = (rightHandSide: readonly number[]): number[] => {
    const x = new Array<number>(columns).fill(0)
    for (let i = columns - 1; i >= 0; i--) {
      let value = rightHandSide[i] as number
      for (let k = i + 1; k < columns; k++) value -= entry(i, k) * (x[k] as number)
      x[i] = value / entry(i, i)
    }
    return x
  }
  const top = Array.from({ length: columns }, (_, i) => entry(i, columns))
  const varianceFactors = new Array<number>(columns).fill(0)
  for (let unit = 0; unit < columns; unit++) {
    // Column `unit` of R^-1; (X'X)^-1 = R^-1 R^-T, so its diagonal sums the squares along rows.
    const inverseColumn = solve(Array.from({ length: columns }, (_, i) => (i === unit ? 1 : 0)))
    inverseColumn.forEach((value, i) => (varianceFactors[i] = (varianceFactors[i] as number) + value * value))
  }
  return {
    coefficients: solve(top),
    residualSumOfSquares: sum(work.slice(columns).map((row) => (row[columns] as number) ** 2)),
    degreesOfFreedom: rows - columns,
    varianceFactors,
  }
}

export interface LineFit {
  readonly slope: number
  readonly intercept: number
  /** Sum of squared distances of x from its mean. */
  readonly sxx: number
  readonly residualSumOfSquares: number
  /** Points minus two. */
  readonly degreesOfFreedom: number
}

/**
 * Straight line through points by ordinary least squares, in centred form.
 *
 * Formula in words: slope = sum of (x - mean x)(y - mean y) over sum of (x - mean x) squared.
 * null where all x are equal. Errors: RangeError for fewer than two points, unequal lengths, non-finite numbers.
 * What for: slope of a trend, or of a value on the repetition. Units: y per x. Source: definition. Limits: errors in
 * y only; one far point pulls the line.
 *
 * @example fitLine([3, 4, 5, 6], [110, 128, 139, 161])?.slope // 16.4
 */
export function fitLine(x: readonly number[], y: readonly number[]): LineFit | null {
  if (x.length !== y.length || x.length < 2) throw new RangeError('a line needs two lists of equal length, two or more')
  const meanX = mean(x)
  const meanY = mean(y)
  const sxx = sumOfSquaredDeviations(x)
  if (!(sxx > 0)) return null
  const slope = sum(x.map((value, i) => (value - meanX) * ((y[i] as number) - meanY))) / sxx
  const residuals = x.map((value, i) => (y[i] as number) - meanY - slope * (value - meanX))
  return {
    slope,
    intercept: meanY - slope * meanX,
    sxx,
    residualSumOfSquares: sum(residuals.map((value) => value * value)),
    degreesOfFreedom: x.length - 2,
  }
}

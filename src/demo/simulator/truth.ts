import type { SimulatedDirection } from './timeline.ts'

/** What really happened in one repetition and direction, without noise, gravity, inertia or impact. Magnitudes. */
export interface RepetitionTruth {
  readonly repetition: number
  readonly direction: SimulatedDirection
  readonly startS: number
  readonly endS: number
  readonly rangeOfMotionDeg: number
  /** Largest muscle torque while the limb moves at exactly the set speed (isometric: while held); null if it never does. */
  readonly peak: { readonly torqueNm: number; readonly angleDeg: number; readonly timeS: number } | null
  /** The part at exactly the set speed. */
  readonly constantVelocity: WindowTruth | null
  /** Longest part within the stated two-sided band around the set speed; it includes the constant part. */
  readonly band: WindowTruth | null
}

export interface WindowTruth {
  readonly startS: number
  readonly endS: number
  readonly rangeDeg: number
  readonly workJ: number
  /** The torque curve still rises or falls at the edge where it is largest: the peak is cut off by the window. */
  readonly peakAtEdge: boolean
}

/** The noise-free course of one effort on the simulator's own fine grid. */
export interface FineCourse {
  readonly timeS: Float64Array
  readonly angleDeg: Float64Array
  readonly speedDegS: Float64Array
  /** In the direction in which the working muscle pulls; negative while its antagonist is still stronger. */
  readonly muscleTorqueNm: Float64Array
}

export function truthOfWindow(course: FineCourse, first: number, last: number): WindowTruth | null {
  if (last <= first) return null
  let workJ = 0
  for (let i = first + 1; i <= last; i++) {
    const stepRad = (Math.abs(course.angleDeg[i]! - course.angleDeg[i - 1]!) * Math.PI) / 180
    workJ += ((course.muscleTorqueNm[i]! + course.muscleTorqueNm[i - 1]!) / 2) * stepRad
  }
  const peakIndex = indexOfPeak(course, first, last)
  return {
    startS: course.timeS[first]!,
    endS: course.timeS[last]!,
    rangeDeg: Math.abs(course.angleDeg[last]! - course.angleDeg[first]!),
    workJ,
    peakAtEdge: peakIndex === first || peakIndex === last,
  }
}

export function peakOf(course: FineCourse, first: number, last: number): RepetitionTruth['peak'] {
  if (last < first) return null
  const index = indexOfPeak(course, first, last)
  return {
    torqueNm: course.muscleTorqueNm[index]!,
    angleDeg: course.angleDeg[index]!,
    timeS: course.timeS[index]!,
  }
}

function indexOfPeak(course: FineCourse, first: number, last: number): number {
  let best = first
  for (let i = first + 1; i <= last; i++) if (course.muscleTorqueNm[i]! > course.muscleTorqueNm[best]!) best = i
  return best
}

/** First and last index of the longest unbroken stretch for which `inside` holds; null when there is none. */
export function longestStretch(length: number, inside: (index: number) => boolean): [number, number] | null {
  let best: [number, number] | null = null
  let start = -1
  for (let i = 0; i <= length; i++) {
    if (i < length && inside(i)) {
      if (start < 0) start = i
    } else if (start >= 0) {
      if (best === null || i - 1 - start > best[1] - best[0]) best = [start, i - 1]
      start = -1
    }
  }
  return best
}

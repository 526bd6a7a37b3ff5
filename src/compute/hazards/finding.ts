/** A hazard found in a document. The text of `message` is ours and asks; it never accuses and never decides. */
export interface HazardFinding {
  /** snake_case, listed as a flag. */
  readonly code:
    | 'possible_unit_error'
    | 'possible_side_swap'
    | 'pain_limited'
    | 'pain_not_recorded'
    | 'impossible_value'
    | 'body_mass_changed'
    | 'angle_range_differs'
    | 'seat_depth_gap'
  /** hold: kept out of progress until a clinician resolves it. */
  readonly level: 'note' | 'caution' | 'hold'
  /** The caller's own references to the values concerned (JSON pointers, result ids). */
  readonly targets: readonly string[]
  readonly message: string
  readonly evidence: Readonly<Record<string, number | string>>
}

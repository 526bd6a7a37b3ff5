/** What stands wherever people prepare or read a test. Common textbook lists, from memory, unless a source is named. */

export const LOCAL_PROTOCOL_FIRST =
  'Local protocol and licensed practice come first. This service states facts and criteria; it decides nothing.'

/** When a test is stopped at once. Pain above 3 of 10: BMJ Open Sport Exerc Med consensus, table 3. */
export const STOP_CRITERIA = [
  'Pain above 3 of 10 during the test',
  'Sharp or new pain, giving way, locking',
  'New effusion',
  'Dizziness, chest symptoms, breathlessness',
  'A strap or the pad slips, or the axis is lost',
  'The person asks to stop',
] as const

/** Never carried over from an earlier visit and never mirrored from the other limb. */
export const MEASURED_ANEW = [
  { what: 'anatomical_zero', label: 'Anatomical zero, after the last adjustment' },
  { what: 'limb_weight', label: 'Limb weight, after the last adjustment' },
  { what: 'axis_check', label: 'Axis check: move the limb by hand, watch the pad' },
  { what: 'pain', label: 'Pain before, during and after' },
  { what: 'effusion', label: 'Effusion before and after' },
] as const

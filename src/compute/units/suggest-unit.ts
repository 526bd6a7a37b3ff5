import { unitKind } from './convert.ts'
import type { QuantityKind } from './unit-table.ts'

/** Common ways of writing a unit, after `flatten`; common practice, no source. */
const spellings: ReadonlyMap<string, string> = new Map(
  Object.entries({
    'N.m': ['nm', 'n.m', 'newtonmetre', 'newtonmeter', 'newtonmetres', 'newtonmeters'],
    'N.cm': ['ncm', 'n.cm'],
    'kgf.m': ['kgfm', 'kgf.m', 'kpm', 'kp.m'],
    '[ft_i].[lbf_av]': [
      'ftlb',
      'ft.lb',
      'ftlbs',
      'ft.lbs',
      'ftlbf',
      'ft.lbf',
      'lbft',
      'lb.ft',
      'lbfft',
      'lbf.ft',
      'footpound',
      'footpounds',
      'foot.pound',
      'foot.pounds',
      '[ft_i].[lb_av]',
    ],
    '[in_i].[lbf_av]': [
      'inlb',
      'in.lb',
      'inlbs',
      'in.lbs',
      'inlbf',
      'in.lbf',
      'lbfin',
      'lbf.in',
      'lb.in',
      'inchpound',
      'inchpounds',
      'inch.pound',
      'inch.pounds',
    ],
    'N.m/kg': ['nm/kg', 'n.m/kg', 'n.m.kg-1', 'nm.kg-1', 'nmkg-1'],
    '[ft_i].[lbf_av]/[lb_av]': ['ftlb/lb', 'ft.lb/lb', 'ftlbs/lb', 'ft.lbs/lb', 'ft.lbf/lb', 'ftlbf/lb'],
    'N.m/s': ['nm/s', 'n.m/s', 'nm/sec', 'n.m/sec', 'nm.s-1', 'n.m.s-1'],
    'N.m.s': ['nms', 'nm.s', 'n.m.s'],
    N: ['n', 'newton', 'newtons'],
    '[lbf_av]': ['lbf', 'poundforce'],
    kgf: ['kgf', 'kp'],
    J: ['j', 'joule', 'joules'],
    kJ: ['kj', 'kilojoule', 'kilojoules'],
    'J/kg': ['j/kg', 'j.kg-1'],
    W: ['w', 'watt', 'watts'],
    'W/kg': ['w/kg', 'w.kg-1'],
    deg: ['deg', 'degs', 'degree', 'degrees', '°', 'º'],
    rad: ['rad', 'rads', 'radian', 'radians'],
    'deg/s': [
      'deg/s',
      'deg/sec',
      'degrees/s',
      'degrees/sec',
      'degree/s',
      'deg.s-1',
      '°/s',
      'º/s',
      '°/sec',
      '°.s-1',
      'dps',
    ],
    'rad/s': ['rad/s', 'rad/sec', 'radians/s', 'rad.s-1', 'rads-1'],
    'deg/s2': ['deg/s2', 'deg/s^2', 'deg/s²', 'deg.s-2', '°/s2', '°/s²', '°/s^2'],
    'rad/s2': ['rad/s2', 'rad/s^2', 'rad/s²', 'rad.s-2'],
    'kg.m2': ['kgm2', 'kg.m2', 'kgm^2', 'kg.m^2', 'kgm²', 'kg.m²'],
    kg: ['kg', 'kgs', 'kilo', 'kilos', 'kilogram', 'kilograms'],
    g: ['gram', 'grams', 'gr'],
    '[lb_av]': ['lb', 'lbs', 'pound', 'pounds', '[lb]'],
    m: ['metre', 'meter', 'metres', 'meters', 'mtr'],
    cm: ['cm', 'cms', 'centimetre', 'centimeter', 'centimetres', 'centimeters'],
    mm: ['mm', 'millimetre', 'millimeter', 'millimetres', 'millimeters'],
    '[in_i]': ['in', 'inch', 'inches', '"', '[in]'],
    '[ft_i]': ['ft', 'foot', 'feet', "'", '[ft]'],
    s: ['s', 'sec', 'secs', 'second', 'seconds'],
    ms: ['ms', 'msec', 'msecs', 'millisecond', 'milliseconds'],
    min: ['min', 'mins', 'minute', 'minutes'],
    h: ['h', 'hr', 'hrs', 'hour', 'hours'],
    d: ['d', 'day', 'days'],
    wk: ['wk', 'wks', 'week', 'weeks'],
    mo: ['mo', 'mos', 'month', 'months'],
    a: ['yr', 'yrs', 'year', 'years', 'y', 'annum'],
    Hz: ['hz', 'hertz', '1/s', 's-1'],
    kHz: ['khz', 'kilohertz'],
    '/min': ['1/min', 'bpm', 'beats/min', 'permin', 'min-1'],
    'mm[Hg]': ['mmhg', 'mm.hg', 'mm[hg]'],
    '%': ['percent', 'pct', 'percentage', '%'],
    '{ratio}': ['ratio', '{ratio}'],
    '{score}': ['score', 'points', 'point', 'pts', '{score}', '{points}'],
    '{repetition}': ['rep', 'reps', 'repetition', 'repetitions', '{rep}', '{reps}', '{repetition}', '{repetitions}'],
    'N.m/{repetition}': ['nm/rep', 'n.m/rep', 'n.m/{rep}', 'nm/repetition', 'n.m/repetition'],
    'N.m/mo': ['nm/mo', 'n.m/mo', 'nm/month', 'n.m/month'],
  }).flatMap(([unit, texts]) => texts.map((text): [string, string] => [text, unit])),
)

/**
 * Unit suggestion: the UCUM code probably meant by a text that is not an accepted unit, or null where nothing is sure.
 *
 * For messages only ("Nm" is not a UCUM unit. Write "N.m"): never use it to read a value, because guessing a unit is how a
 * foot-pound becomes a newton metre. Percent of body weight has no suggestion: it means 100 x N.m/kg to some and
 * 100 x ft.lbf/lb to others, a factor of 2.99 apart. A foot-pound is suggested as torque.
 *
 * `kind`, where known, keeps the suggestion to units of the quantity asked for.
 * What for: a refusal that says what would have been right. Errors: none. Source: common ways of writing, no source.
 * Limits: knows the spellings of its table only, and corrects nothing by itself.
 *
 * @example suggestUnit('Nm')             // 'N.m'
 * @example suggestUnit('ft-lb')          // '[ft_i].[lbf_av]'
 * @example suggestUnit('%BW')            // null
 * @example suggestUnit('lbs', 'torque')  // null
 */
export function suggestUnit(text: string, kind?: QuantityKind): string | null {
  const suggestion = unitKind(text.trim()) === null ? spellings.get(flatten(text)) : text.trim()
  if (suggestion === undefined) return null
  return kind === undefined || unitKind(suggestion) === kind ? suggestion : null
}

/** Lower case, blanks dropped, every sign for "times" a dot, unicode minus and superscripts as in ASCII. */
function flatten(text: string): string {
  return text
    .trim()
    .toLowerCase()
    .replaceAll('−', '-')
    .replaceAll('⁻¹', '-1')
    .replaceAll('⁻²', '-2')
    .replaceAll(/[·⋅•*×]/gu, '.')
    .replaceAll(/(?<=[a-z])[-_ ](?=[a-z])/gu, '.')
    .replaceAll(/\s+/gu, '')
}

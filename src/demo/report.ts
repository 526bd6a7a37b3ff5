/** The story as text. Every number in it was read from an answer of the service. */
import { isProblem, type Push, type Story } from './play.ts'
import { paragraph, table } from './table.ts'

export function report(story: Story): string {
  return [
    heading('1', 'What was sent, and what came back'),
    sent(story),
    refused(story),
    held(story),
    heading('2', `Is it a real change? ${seriesInWords(story)}`),
    mayBeCompared(story),
    strength(story),
    errorModel(story),
    sinceSurgery(story),
    symmetry(story),
    nextTest(story),
    heading('3', `Criteria on ${story.readiness.on}: ${story.readiness.criteriaSet.citation}`),
    readiness(story),
    heading('4', 'Who saw and changed what: the audit log, as the owner of the clinic reads it'),
    audit(story),
  ].join('\n\n')
}

const heading = (number: string, title: string): string => `${number}  ${title}\n${'='.repeat(title.length + 3)}`
const words = (code: string): string => code.replaceAll('_', ' ')
const fixed = (value: number, digits = 1): string => value.toFixed(digits)
const signed = (value: number): string => `${value > 0 ? '+' : ''}${fixed(value)}`

interface Measured {
  readonly value: number | null
  readonly unit: string
  readonly reason?: string | undefined
}
const measured = ({ value, reason }: Measured, digits = 1): string =>
  value === null ? words(reason ?? 'none') : fixed(value, digits)

const between = (interval: { low: number; high: number } | undefined): string =>
  interval === undefined ? '' : `${fixed(interval.low)} to ${fixed(interval.high)}`

function sent({ pushes }: Story): string {
  return table(
    [
      { title: 'visit' },
      { title: 'what was sent', width: 34 },
      { title: 'body', align: 'right' },
      { title: 'answer', width: 44 },
      { title: 'took', align: 'right' },
    ],
    pushes.map((push) => [
      push.visit,
      push.said,
      size(push.answer.sentBytes),
      answerInWords(push),
      `${fixed(push.answer.milliseconds / 1000, 2)} s`,
    ]),
  )
}

const size = (bytes: number): string =>
  bytes >= 100_000 ? `${fixed(bytes / 1_000_000, 2)} MB` : `${fixed(bytes / 1000)} kB`

function answerInWords({ answer }: Push): string {
  const { status, body, replayed } = answer
  if (isProblem(body)) return `${status} refused: ${body.errors.length} faults, nothing stored`
  const { session, results, flags } = body
  const version = `version ${session.version}`
  if (replayed) return `${status} the first answer again, one effect`
  if (status === 200) return session.version > 1 ? `200 ${version}; version 1 stays readable` : `200 stored already, as ${version}` // prettier-ignore
  const levels = (['hold', 'caution', 'note'] as const).flatMap((level) => {
    const count = flags.filter((flag) => flag.level === level).length
    return count === 0 ? [] : [`${count} ${level}${count > 1 ? 's' : ''}`]
  })
  return [`${status} stored, ${results.length} results`, ...(levels.length > 0 ? [`flags: ${levels.join(', ')}`] : [])].join('; ') // prettier-ignore
}

function refused({ pushes }: Story): string {
  const faults = pushes.flatMap(({ answer: { body } }) => (isProblem(body) ? body.errors : []))
  return [
    'Refused: every fault at once',
    table(
      [{ title: 'where in the document' }, { title: 'what' }],
      faults.map(({ pointer, message }) => [pointer, message]),
    ),
  ].join('\n')
}

function held(story: Story): string {
  return [
    'Stored, and out of trends, symmetry and criteria until a clinician resolves it',
    table(
      [{ title: 'visit' }, { title: 'what was found', width: 100 }],
      story.held.map(({ sessionId, message }) => [visitOf(story, sessionId), message]),
    ),
  ].join('\n')
}

function seriesInWords({ trend: { series, primary } }: Story): string {
  const { side, joint, movement, contractionMode, velocity } = series
  const test = `${side} ${joint} ${movement}, ${words(contractionMode)}, ${velocity.value} ${velocity.unit}`
  return `${test}: peak torque, ${series.statistic}${primary ? ' (named in advance)' : ''}`
}

function mayBeCompared(story: Story): string {
  const { runs, points, splits } = story.trend
  return [
    'May these be compared?',
    table(
      [{ title: 'run' }, { title: 'tests' }, { title: 'with one another' }],
      runs.map(({ run, pointCount, comparability }) => [
        run,
        points.filter((point) => point.run === run).map(({ sessionId }) => visitOf(story, sessionId)).join(', '), // prettier-ignore
        pointCount === 1 ? 'stands alone' : words(comparability),
      ]),
    ),
    ...splits.map((split) =>
      [
        '',
        paragraph(`${visitOfResult(story, split.resultId)} against ${visitOfResult(story, split.against)}: ${words(split.verdict)}`), // prettier-ignore
        reasons(split.reasons),
      ].join('\n'),
    ),
  ].join('\n')
}

type Reason = Story['trend']['splits'][number]['reasons'][number]

function reasons(list: readonly Reason[]): string {
  return table(
    [
      { title: 'because of' },
      { title: 'effect' },
      { title: 'before', width: 22 },
      { title: 'now', width: 16 },
      { title: 'source', width: 34 },
    ],
    list.map(({ factor, effect, before, now, source }) => [words(factor), words(effect), setting(before), setting(now), source]), // prettier-ignore
  )
}

function setting(value: Reason['before']): string {
  if (value === null) return 'not known'
  const text = typeof value === 'string' ? value : `${fixed(value.value)} ${value.unit}`
  return text.replace(/-?\d+\.\d{2,}/g, (number) => fixed(Number(number)))
}

function strength(story: Story): string {
  return [
    'Both limbs, and the change of the involved one',
    table(
      [
        { title: 'visit' },
        { title: 'run' },
        { title: 'N.m', align: 'right' },
        { title: 'left N.m/kg', align: 'right', width: 6 },
        { title: 'right N.m/kg', align: 'right', width: 6 },
        { title: 'from the last that compares', width: 36 },
        { title: 'pain', align: 'right' },
        { title: 'effusion', width: 13 },
      ],
      story.trend.points.map((point) => [
        `${visitOf(story, point.sessionId)}${point.baseline ? ' *' : ''}`,
        point.run,
        fixed(point.quantity.value),
        limb(point.perBodyMass?.left),
        limb(point.perBodyMass?.right),
        change(story, point.changeFromPrevious),
        point.painDuring === null ? 'unknown' : String(point.painDuring.value),
        effusion(point),
      ]),
    ),
    paragraph(
      '* baseline of the episode. Pain during the test, 0 to 10. Effusion of the involved knee, before and after.',
    ),
  ].join('\n')
}

const limb = (value: { value: number } | null | undefined): string =>
  value === null || value === undefined ? 'none' : fixed(value.value, 2)

function change(story: Story, made: Story['trend']['points'][number]['changeFromPrevious']): string {
  if (made === null) return ''
  const size = made.difference === null ? '' : `${signed(made.difference.value)} `
  const why = made.reason === undefined ? '' : ` (${words(made.reason)})`
  return `${size}${words(made.verdict)}${why}, from ${visitOfResult(story, made.against)}`
}

const effusion = ({ effusion: found }: Story['trend']['points'][number]): string =>
  found === null ? 'unknown' : `${words(found.before)}, ${words(found.after ?? 'unknown')}`

function errorModel({ trend: { errorModel: model, multiplicity } }: Story): string {
  if (model.kind === 'none') return paragraph(`Measurement error: none that fits (${words(model.reason)}).`)
  const { standardErrorOfMeasurement: sem, minimalDetectableChange: mdc, confidence, source } = model
  const error = `${fixed(sem.value)} ${sem.unit}; at ${100 * confidence} % a change is one beyond ${fixed(mdc.value)} ${mdc.unit}`
  return paragraph(`Measurement error: ${error}. Source: ${source}. ${multiplicity}`)
}

function sinceSurgery({ trendSinceSurgery: { runs } }: Story): string {
  const rows = runs.map(({ run, pointCount, slope, threshold }) => [
    run,
    String(pointCount),
    slope.value === null ? words(slope.reason ?? '') : `${signed(slope.value)} ${slope.unit}`,
    between(slope.interval),
    words(slope.verdict),
    threshold === undefined || threshold.distance.value === null
      ? ''
      : `${fixed(threshold.distance.value)} to ${fixed(threshold.value)} ${threshold.unit}`,
  ])
  const [note] = runs.flatMap(({ threshold }) => threshold?.note ?? [])
  return [
    'Pace since surgery, and the distance to what the other knee gave before it',
    table(
      [
        { title: 'run' },
        { title: 'tests', align: 'right' },
        { title: 'slope', width: 30 },
        { title: '95 % interval' },
        { title: 'verdict' },
        { title: 'distance' },
      ],
      rows,
    ),
    ...(note === undefined ? [] : [paragraph(note)]),
  ].join('\n')
}

function symmetry(story: Story): string {
  return [
    'Symmetry: right in percent of left, never without both limbs beside it',
    table(
      [
        { title: 'visit' },
        { title: 'left N.m', align: 'right', width: 13 },
        { title: 'right N.m', align: 'right', width: 13 },
        { title: 'symmetry %', align: 'right', width: 13 },
        { title: '95 % interval' },
        { title: 'weaker' },
        { title: '% of the other limb before surgery', align: 'right', width: 18 },
        { title: 'the two setups', width: 22 },
      ],
      story.symmetry.points.map((point) => [
        visitOf(story, point.sessionId),
        measured(point.left),
        measured(point.right),
        measured(point.limbSymmetryIndex),
        between(point.limbSymmetryIndex.interval),
        point.weakerSide ?? '',
        measured(point.estimatedPreInjuryCapacity),
        words(point.setupsMatch),
      ]),
    ),
  ].join('\n')
}

/** From the reasons that split the trend: what has to be put back. */
function nextTest({ trend: { splits } }: Story): string {
  const needed = new Map(splits.flatMap((split) => split.reasons).map((reason) => [reason.factor, reason] as const))
  const lines = [...needed.values()].map(({ factor, effect, before }) =>
    effect === 'not_comparable'
      ? `Put ${words(factor)} back to: ${setting(before)}.`
      : `See to it: ${words(factor)} (${words(effect)}).`,
  )
  return ['What would make the next test comparable', ...lines.map(paragraph)].join('\n')
}

function readiness({ readiness: answer, readinessBefore }: Story): string {
  const { counts, criteriaSet, sinceSurgery } = answer
  const weeks = sinceSurgery === null ? '' : `, ${fixed(sinceSurgery.value, 0)} weeks after surgery`
  const before = readinessBefore.criteria.filter(({ verdict }) => verdict === 'not_assessable').map(({ key }) => key)
  return [
    paragraph(`${words(answer.overall)}${weeks}: ${counts.notAssessable} not assessable, ${counts.notMet} not met, ${counts.met} met.`), // prettier-ignore
    table(
      [
        { title: 'verdict' },
        { title: 'criterion' },
        { title: 'asks' },
        { title: 'observed', width: 24 },
        { title: 'distance', align: 'right' },
        { title: 'age', align: 'right' },
        { title: 'beside it', width: 30 },
      ],
      answer.criteria.map((criterion) => [
        words(criterion.verdict),
        criterion.key,
        `${criterion.comparator} ${inWords(criterion.threshold)}`,
        observed(criterion.observed),
        criterion.distance === null ? '' : `${fixed(criterion.distance.value)} ${criterion.distance.unit}`,
        criterion.age === null ? '' : `${criterion.age.value} ${criterion.age.unit}`,
        beside(criterion),
      ]),
    ),
    paragraph(`Population: ${criteriaSet.population}; does this subject belong to it? ${words(criteriaSet.populationMatches)}. ${criteriaSet.populationNote ?? ''}`), // prettier-ignore
    paragraph(criteriaSet.limits),
    ...(before.length === 0 ? [] : [paragraph(`Before the clinician's own word was on record, not assessable: ${before.join(', ')}.`)]), // prettier-ignore
    ...answer.notes.map(paragraph),
  ].join('\n')
}

type Criterion = Story['readiness']['criteria'][number]

function inWords(value: Criterion['threshold']): string {
  if (value === null) return 'none'
  return typeof value === 'string' ? words(value) : `${value.value} ${value.unit}`
}

function observed(value: Criterion['observed']): string {
  if (value === null) return 'nothing'
  if (typeof value === 'string') return words(value)
  const range = between('interval' in value ? value.interval : undefined)
  return `${Number(value.value.toPrecision(4))} ${value.unit}${range === '' ? '' : ` (${range})`}`
}

function beside({ reason, intervalSpansThreshold, comparability, beside: more }: Criterion): string {
  const capacity = more?.estimatedPreInjuryCapacity.value ?? null
  return [
    ...(reason === null ? [] : [words(reason)]),
    ...(intervalSpansThreshold === true ? ['interval spans the threshold'] : []),
    ...(comparability === null ? [] : [`setups ${words(comparability)}`]),
    ...(capacity === null ? [] : [`${fixed(capacity)} % of the other limb before surgery`]),
  ].join('; ')
}

const NEWEST = 24

function audit({ audit: events, trend, sealed }: Story): string {
  const shown = events.slice(0, NEWEST)
  const subject = (ids: readonly string[]): string => (ids.includes(trend.series.subjectId) ? 'of the subject' : '')
  return [
    table(
      [
        { title: 'entry', align: 'right' },
        { title: 'at' },
        { title: 'who' },
        { title: 'role' },
        { title: 'what' },
        { title: 'data' },
        { title: 'outcome' },
      ],
      shown.map(({ at, sealed, actor, action, outcome, subjectIds, details }) => [
        sealed === null ? 'not sealed' : String(sealed.sequence),
        at.slice(11, 19),
        actor.displayName ?? '',
        actor.role ?? '',
        action,
        subject(subjectIds),
        typeof details['code'] === 'string' ? `${outcome}: ${words(details['code'])}` : outcome,
      ]),
    ),
    paragraph(`The newest ${shown.length} of ${events.length}; ${sealed.size} are sealed under one signed root, ${sealed.rootHash.slice(0, 16)}... Reads are in it as well as writes and refusals; the other clinic's request is in that clinic's own log.`), // prettier-ignore
  ].join('\n')
}

function visitOf({ pushes }: Story, sessionId: string): string {
  const push = pushes.find(({ answer: { body } }) => !isProblem(body) && body.session.id === sessionId)
  return push?.visit ?? sessionId
}

function visitOfResult(story: Story, resultId: string): string {
  const point = story.trend.points.find((one) => one.resultId === resultId)
  return point === undefined ? resultId : visitOf(story, point.sessionId)
}

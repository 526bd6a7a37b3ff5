/**
 * The next setup as one plain page, to print on one sheet and to fill in with a pen: no script, no picture, nothing fetched.
 * Every text is escaped by the template; the style is the only thing the page may use, by its hash.
 */
import { createHash } from 'node:crypto'
import { readFileSync } from 'node:fs'
import { Eta } from 'eta'
import type { NextSetup } from '../../application/setups/describe-next-setup.ts'
import { sizeOf, type SheetText } from './fit-one-sheet.ts'

const fileBeside = (name: string): string => readFileSync(new URL(name, import.meta.url), 'utf8')

const STYLE = fileBeside('next-setup.css')
const STYLE_HASH = createHash('sha256').update(STYLE).digest('base64')

export const NEXT_SETUP_PAGE_POLICY = `default-src 'none'; style-src 'sha256-${STYLE_HASH}'; base-uri 'none'; form-action 'none'; frame-ancestors 'none'` // prettier-ignore

const eta = new Eta({ autoEscape: true })
const template = eta.compile(fileBeside('next-setup.eta'))

export function renderNextSetupPage(setup: NextSetup): string {
  const page = pageOf(setup)
  return eta.render(template, { ...page, style: STYLE, size: `size-${sizeOf(textOf(page))}` })
}

interface Row {
  readonly label: string
  readonly origin: string
  readonly value: string
  /** Words are printed smaller than numbers. */
  readonly words: boolean
}

type Item = NextSetup['chairAndMachine'][number]

function pageOf(setup: NextSetup) {
  const { identityCheck: who, precautionsAndLimits, plannedTest } = setup
  const blocks = [
    { title: '2 · Mechanical stops', rows: setup.mechanicalStops.map(stopRow) },
    { title: '3 · Parts to fetch', rows: setup.partsToFetch.map(itemRow) },
    { title: '4 · Chair and machine', rows: setup.chairAndMachine.map(itemRow) },
    { title: '5 · Fitting the subject', rows: setup.fittingTheSubject.map(itemRow) },
  ]
  return {
    name: who.subject.name ?? 'Name not on record',
    birthDate: who.subject.birthDate ?? null,
    identifiers: who.subject.identifiers.map(({ value }) => value),
    clinic: who.clinic,
    limb: `${who.limb.side} ${who.limb.joint}`,
    on: who.on,
    dynamometer: `${who.dynamometer.name} (description ${who.dynamometer.descriptionVersion})`,
    reference:
      who.reference === null
        ? 'No reference pinned'
        : `Reference ${who.reference.version}, test of ${who.reference.testedOn}`,
    ask: who.ask,
    precautions: precautionLines(precautionsAndLimits),
    questions: precautionsAndLimits.screening.questions,
    listVersion: precautionsAndLimits.screening.listVersion,
    stopCriteria: precautionsAndLimits.stopCriteria,
    warnings: setup.warnings.map(({ message }) => message),
    blocks,
    measureAgain: setup.measureAgain.map(({ label }) => label),
    changed: setup.changedSinceReference.map(
      ({ what, reference, lastSession, reason }) =>
        `${words(what)}: ${reference ?? 'not recorded'}, last time ${lastSession ?? 'not recorded'}${reason === null ? '' : ` (${words(reason)})`}`,
    ),
    planOrigin: { plan: `planned for ${plannedTest.plannedOn}`, last_session: 'as last time', none: '' }[
      plannedTest.origin
    ],
    sets: plannedTest.sets.map(
      (set) => `${setLine(set)}${set.beyond.length === 0 ? '' : ` BEYOND: ${set.beyond.join('; ')}`}`,
    ),
    reason: plannedTest.precautionReason,
    leftOut: plannedTest.leftOut.map((set) => `${setLine(set)}: ${set.beyond.join('; ')}`),
    notes: setup.notes,
  }
}

/** What takes room on the sheet. */
function textOf(page: ReturnType<typeof pageOf>): SheetText {
  const { identifiers, clinic, ask, dynamometer, warnings, notes, precautions, stopCriteria } = page
  return {
    name: page.name,
    wide: [[...identifiers, clinic].join(' · '), ...ask, dynamometer, warnings.join(' '), notes.join(' ')],
    halves: [[...precautions, 'Screening questions'], [stopCriteria.join('; ')]],
    tables: [
      ...page.blocks.map(({ rows }) => rows),
      page.measureAgain.map((label) => ({ label, origin: '', value: null, words: true })),
    ],
    lists: [page.changed, [...page.sets, page.reason ?? '', ...page.leftOut]],
  }
}

function precautionLines({ episodes }: NextSetup['precautionsAndLimits']): string[] {
  return episodes
    .filter(({ speaksOfThisLimb }) => speaksOfThisLimb === 'yes')
    .flatMap(({ sinceSurgery, precautions }) => [
      ...(sinceSurgery === null ? [] : [`${Math.floor(sinceSurgery.value)} weeks since surgery`]),
      ...precautions
        .filter(({ inForce }) => inForce === 'yes')
        .map(({ inWords, setBy, note }) => `${inWords} (${setBy})${note === undefined ? '' : `: ${note}`}`),
    ])
}

function stopRow({ movement, value, origin, limitedBy }: NextSetup['mechanicalStops'][number]): Row {
  const limit =
    limitedBy === null ? '' : `limited by a precaution, instead of ${limitedBy.instead.value} ${limitedBy.instead.unit}`
  return {
    label: `Stop in ${words(movement)}`,
    origin: limit === '' ? words(origin) : limit,
    value: `${value.value} ${value.unit}`,
    words: false,
  }
}

function itemRow({ label, value, origin, tolerance }: Item): Row {
  const within = tolerance === undefined ? '' : `, within ${tolerance.value} ${tolerance.unit}`
  const source = value === null ? '' : `${words(origin)}${within}`
  if (value === null) return { label, origin: source, value: 'not known', words: true }
  if (typeof value === 'boolean') return { label, origin: source, value: value ? 'yes' : 'no', words: true }
  if (typeof value === 'string') return { label, origin: source, value: words(value), words: true }
  if ('mark' in value) return { label, origin: `${source}, scale ${value.scale}`, value: value.mark, words: false }
  return { label, origin: source, value: `${value.value} ${value.unit}`, words: false }
}

function setLine(set: NextSetup['plannedTest']['sets'][number]): string {
  const [first] = set.directions
  const movements = set.directions.map(({ movement }) => words(movement)).join(' and ')
  const speed = first === undefined ? '' : `${first.velocity.value} ${first.velocity.unit}`
  const mode = first === undefined ? '' : words(first.contractionMode)
  const repetitions = set.intendedRepetitions === undefined ? '' : `, ${set.intendedRepetitions} repetitions`
  const rest = set.restBefore === undefined ? '' : `, after ${set.restBefore.value} ${set.restBefore.unit} of rest`
  return `${movements}, ${mode} ${speed}${repetitions}${rest}`
}

/** "settings/seatDepth" is "seat depth"; "holding_handles" is "holding handles". */
const words = (code: string): string =>
  code
    .replace(/^.*\//, '')
    .replaceAll('_', ' ')
    .replaceAll(/(?<=[a-z])[A-Z]/g, (letter) => ` ${letter.toLowerCase()}`)

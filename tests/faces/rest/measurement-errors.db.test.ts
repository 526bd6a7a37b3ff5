import { beforeEach, describe, expect, it } from 'vitest'
import { COMPUTE_VERSION } from '../../../src/compute/index.ts'
import { withClient } from '../../../src/store/migrate/with-client.ts'
import { retests as retestsOf } from '../../application/measurement-errors/retest-pairs.ts'
import { MINI_1, MINI_2, WRIGHT_1, WRIGHT_2 } from '../../compute/reliability/bland-altman-1986.ts'
import { freshClinic, makeTestService, type Api, type FreshClinic } from '../../harness/clinic.ts'
import { testedSubject } from '../../harness/tested-subject.ts'
import { testDatabase } from '../../harness/test-database.ts'

const service = await makeTestService(await testDatabase())
let clinic: FreshClinic
let api: Api
beforeEach(async () => {
  clinic = await freshClinic(service)
  api = service.api(clinic.tokens.clinician)
})

const URL = '/v1/measurement-errors'

const inUnit = (value: number, unit = 'N.m') => ({ value, unit })
const pairsOf = (first: readonly number[], second: readonly number[], unit = 'N.m') =>
  first.map((value, i) => ({ first: inUnit(value, unit), second: inUnit(second[i] ?? NaN, unit) }))

/** Mean change 1.2, within-subject SD sqrt(7.4): worked by hand. */
const FIVE = pairsOf([62, 78, 81, 55, 66], [67, 76, 87, 55, 63])

const retests = (change: object = {}) => retestsOf(FIVE, change)

describe('success: pairs of tests', () => {
  it('give error, interval, detectable change, learning and all six correlations by name', async () => {
    const { status, headers, body } = await api.post(URL, retests())
    expect(status).toBe(201)
    expect(headers.location).toBe(URL)
    const { pairs: _, ...identity } = retests()
    expect(body).toMatchObject({
      ...identity,
      pairs: 5,
      minimumPairs: 10,
      computeVersion: COMPUTE_VERSION,
      recordedBy: clinic.principals.clinician,
      typicalError: { unit: 'N.m' },
      learningShift: { unit: 'N.m', detected: 'no' },
      notes: [{ code: 'clinic_pairs_too_few' }],
    })
    // Differences 5, -2, 6, 0, -3: squares sum to 74, halved over five pairs 7.4; variance about the mean 16.7.
    expect(body.standardErrorOfMeasurement.value).toBeCloseTo(Math.sqrt(7.4), 10)
    expect(body.typicalError.value).toBeCloseTo(Math.sqrt(16.7 / 2), 10)
    expect(body.learningShift.value).toBeCloseTo(1.2, 10)
    expect(body.minimalDetectableChange.rise.value).toBeCloseTo(1.959964 * Math.SQRT2 * Math.sqrt(7.4), 5)
    expect(body.minimalDetectableChange.fall.value).toBe(-body.minimalDetectableChange.rise.value)
    const { low, high, confidence } = body.standardErrorOfMeasurement.interval
    expect(confidence).toBe(0.95)
    // Chi-square quantiles of five degrees of freedom: 0.8312 and 12.8325.
    expect(low).toBeCloseTo(Math.sqrt((7.4 * 5) / 12.8325), 4)
    expect(high).toBeCloseTo(Math.sqrt((7.4 * 5) / 0.8312), 3)
    const { rise, fall } = body.minimalDetectableChange
    expect(rise.interval.low / low).toBeCloseTo(rise.value / body.standardErrorOfMeasurement.value, 10)
    expect(fall.interval).toEqual({ low: -rise.interval.high, high: -rise.interval.low, confidence: 0.95 })
    const { forms } = body.intraclassCorrelation
    expect(forms.map((one: { form: string }) => one.form)).toEqual(['ICC(1,1)', 'ICC(2,1)', 'ICC(3,1)', 'ICC(1,k)', 'ICC(2,k)', 'ICC(3,k)']) // prettier-ignore
    for (const { value, interval } of forms) {
      expect(interval.low).toBeLessThan(value)
      expect(interval.high).toBeGreaterThan(value)
    }
  })

  it.each([
    // Within-subject SD and typical error, l/min; mean of first minus second; repeatability; Shrout & Fleiss's six forms
    ['first', WRIGHT_1, WRIGHT_2, 15.306669, 15.361215, 4.941176, 42.427922, [0.983165, 0.983164, 0.983046, 0.991511, 0.991511, 0.99145]], // prettier-ignore
    ['second', MINI_1, MINI_2, 19.910831, 20.415806, -2.882353, 55.190007, [0.968496, 0.968471, 0.966905, 0.983996, 0.983983, 0.983174]], // prettier-ignore
  ] as const)(
    'of the %s meter of a published table give its error, repeatability and correlations',
    async (_, first, second, sem, typical, shift, repeatability, forms) => {
      // Bland & Altman 1986, Lancet i:307-10, table 1; numpy by the formulas of Shrout & Fleiss 1979, Psychol Bull 86:420-8
      const { body } = await api.post(URL, retests({ pairs: pairsOf(first, second) }))
      expect(body.standardErrorOfMeasurement.value).toBeCloseTo(sem, 6)
      expect(body.typicalError.value).toBeCloseTo(typical, 6)
      expect(body.learningShift).toMatchObject({ value: expect.closeTo(-shift, 6), detected: 'no' })
      // 1.96 x root 2 x within-subject SD, by the quantile that is not rounded
      expect(body.minimalDetectableChange.rise.value).toBeCloseTo((repeatability * 1.959964) / 1.96, 4)
      expect(body.intraclassCorrelation.forms.map(({ value }: { value: number }) => Math.round(value * 1e6) / 1e6)).toEqual(forms) // prettier-ignore
      expect(body.notes).toEqual([])
    },
  )

  it('in percent give limits that differ up and down, on logarithms', async () => {
    const { body } = await api.post(URL, retests({ scale: 'percent' }))
    const logs = FIVE.map(({ first, second }) => Math.log(second.value / first.value))
    const sd = Math.sqrt(logs.reduce((sum, d) => sum + d * d, 0) / 10)
    expect(body.standardErrorOfMeasurement).toMatchObject({ value: expect.closeTo(100 * Math.expm1(sd), 9), unit: '%' })
    const half = 1.959964 * Math.SQRT2 * sd
    expect(body.minimalDetectableChange.rise.value).toBeCloseTo(100 * Math.expm1(half), 4)
    expect(body.minimalDetectableChange.fall.value).toBeCloseTo(100 * Math.expm1(-half), 4)
  })

  it('in foot-pounds give the same error in newton metres', async () => {
    const plain = (await api.post(URL, retests())).body
    const footPounds = FIVE.map(({ first, second }) => ({
      first: inUnit(first.value / 1.3558179483314004, '[ft_i].[lbf_av]'),
      second: inUnit(second.value / 1.3558179483314004, '[ft_i].[lbf_av]'),
    }))
    const { body } = await api.post(URL, retests({ pairs: footPounds }))
    expect(body.standardErrorOfMeasurement.value).toBeCloseTo(plain.standardErrorOfMeasurement.value, 9)
    expect(body.standardErrorOfMeasurement.unit).toBe('N.m')
  })

  it('with tests swapped differ in the sign of the shift alone', async () => {
    const there = (await api.post(URL, retests())).body
    const back = (await api.post(URL, retests({ pairs: FIVE.map(({ first, second }) => ({ first: second, second: first })) }))).body // prettier-ignore
    expect(back.learningShift.value).toBeCloseTo(-there.learningShift.value, 10)
    for (const part of ['standardErrorOfMeasurement', 'typicalError', 'minimalDetectableChange', 'notes'])
      expect(back[part]).toEqual(there[part])
  })

  it('with a clear shift say that the error holds learning', async () => {
    const first = Array.from({ length: 12 }, (_, i) => 100 + 7 * i)
    const second = first.map((value, i) => value + 9 + (i % 3))
    const { body } = await api.post(URL, retests({ pairs: pairsOf(first, second) }))
    expect(body.learningShift.detected).toBe('yes')
    expect(body.notes).toMatchObject([{ code: 'mean_shift_in_retests' }])
    expect(body.standardErrorOfMeasurement.value).toBeGreaterThan(body.typicalError.value)
  })

  it('of people who do not differ have no correlation, and say why', async () => {
    const { body } = await api.post(URL, retests({ pairs: pairsOf([99, 101, 98, 102], [101, 99, 102, 98]) }))
    expect(body.intraclassCorrelation).toEqual({ reason: 'no_variance_between_subjects' })
  })

  it('may be a thousand', async () => {
    const first = Array.from({ length: 1000 }, (_, i) => 100.123456789 + (i % 83))
    const second = first.map((value, i) => value + ((i * 7) % 11) - 5.000000001)
    const { status, body } = await api.post(URL, retests({ pairs: pairsOf(first, second) }))
    expect(status).toBe(201)
    expect(body.pairs).toBe(1000)
  })

  it('are kept as written, and listed page by page, oldest first', async () => {
    const one = (await api.post(URL, retests(), { key: 'one' })).body
    const two = (await api.post(URL, retests({ velocity: { value: 180, unit: 'deg/s' } }))).body
    expect((await api.post(URL, retests(), { key: 'one' })).body).toEqual(one)
    expect((await api.get(URL)).body).toEqual({ items: [one, two], nextCursor: null })
    const page = (await api.get(`${URL}?limit=1`)).body
    expect(page.items).toEqual([one])
    expect((await api.get(`${URL}?limit=1&cursor=${page.nextCursor}`)).body).toEqual({ items: [two], nextCursor: null })
    const { rows } = await withClient(service.database.adminUrl, (client) =>
      client.query('select document from measurement_error where id = $1', [one.id]),
    )
    expect(rows[0].document.pairs).toEqual(FIVE)
  })

  it('from ten on decide the changes of that series in limbs like those tested', async () => {
    const tested = await testedSubject(service, clinic)
    await tested.push(tested.visit('2026-10-13'))
    await tested.push(tested.visit('2026-11-10'))
    const modelOf = async (side: string, velocity = 60) => {
      const query = `joint=knee&movement=extension&side=${side}&contractionMode=isokinetic_concentric&contractionScheme=reciprocal&velocity=${velocity}%20deg/s&measure=peakTorque&statistic=best`
      return (await api.get(`/v1/subjects/${tested.subjectId}/trend?${query}`)).body.errorModel
    }
    const first = Array.from({ length: 12 }, (_, i) => 100 + 7 * i)
    const second = first.map((value, i) => value + (i % 2 === 0 ? 8 : -8))
    expect((await modelOf('right')).kind).not.toBe('clinic_test_retest')
    await api.post(URL, retests({ pairs: pairsOf(first.slice(0, 9), second.slice(0, 9)) }))
    expect((await modelOf('right')).kind).not.toBe('clinic_test_retest')
    const { body } = await api.post(URL, retests({ pairs: pairsOf(first, second) }))
    expect(await modelOf('right')).toMatchObject({
      kind: 'clinic_test_retest',
      pairs: 12,
      standardErrorOfMeasurement: { value: body.standardErrorOfMeasurement.value, unit: 'N.m' },
      minimalDetectableChange: { value: body.minimalDetectableChange.rise.value, unit: body.minimalDetectableChange.rise.unit }, // prettier-ignore
      source: 'own clinic, retests 2025-02 to 2026-09',
    })
    expect((await modelOf('right', 180)).kind).not.toBe('clinic_test_retest')
  })

  it('are an event of the audit log', async () => {
    const { id } = (await api.post(URL, retests())).body
    const { rows } = await withClient(
      service.database.adminUrl,
      (client) =>
      client.query(`select outcome, resource_ids from audit_event where clinic_id = $1 and action = 'measurement-errors.create'`, [clinic.clinicId]), // prettier-ignore
    )
    expect(rows).toEqual([{ outcome: 'done', resource_ids: [`measurement-error/${id}`] }])
  })
})

describe('400', () => {
  it.each([
    ['two pairs', { pairs: FIVE.slice(2, 4) }, '#/pairs', 'too_few'],
    ['pairs without any difference', { pairs: pairsOf([1, 2, 3], [1, 2, 3]) }, '#/pairs', 'no_variance'],
    ['pairs that no test can give', { pairs: pairsOf([-9e5, 0, 0], [9e5, 0, 0]) }, '#/pairs', 'out_of_range'],
    ['a unit of another kind', { pairs: [...FIVE, { first: inUnit(1, 'J'), second: inUnit(1) }] }, '#/pairs/5/first/unit', 'unit_wrong_kind'], // prettier-ignore
    ['a unit that is none', { pairs: [...FIVE, { first: inUnit(1), second: inUnit(1, 'Nm') }] }, '#/pairs/5/second/unit', 'unit_not_ucum'], // prettier-ignore
    ['a value beyond any limb', { pairs: [...FIVE, { first: inUnit(1e300), second: inUnit(1) }] }, '#/pairs/5/first/value', 'out_of_range'], // prettier-ignore
    ['zero on a scale of percent', { scale: 'percent', pairs: [...FIVE, { first: inUnit(0), second: inUnit(1) }] }, '#/pairs/5/first/value', 'out_of_range'], // prettier-ignore
    ['a movement of another joint', { movement: 'pronation' }, '#/movement', 'movement_not_of_joint'],
    [
      'a velocity in a unit that is none',
      { contractionMode: 'isometric', velocity: inUnit(1, 'rpm') },
      '#/velocity/unit',
      'unit_not_ucum',
    ],
    ['an isometric test that moves', { contractionMode: 'isometric' }, '#/velocity/value', 'out_of_range'],
    ['an isokinetic test that stands', { velocity: inUnit(0, 'deg/s') }, '#/velocity/value', 'out_of_range'],
    ['a measure we do not know', { measure: 'strength' }, '#/measure', 'not_in_list'],
    ['no source', { source: undefined }, '#/source', 'missing'],
    ['a field we do not know', { sem: 3 }, '#/sem', 'unknown_field'],
  ])('refuses %s, and keeps nothing', async (_what, change, pointer, code) => {
    const answer = await api.post(URL, retests(change))
    expect(answer.status).toBe(400)
    expect(answer.body.errors).toMatchObject([{ pointer, code }])
    expect((await api.get(URL)).body.items).toEqual([])
  })

  it('refuses more than a thousand pairs, and a query it does not know', async () => {
    const many = Array.from({ length: 1001 }, () => FIVE[0])
    expect((await api.post(URL, retests({ pairs: many }))).status).toBe(400)
    expect((await api.get(`${URL}?series=knee`)).status).toBe(400)
  })
})

describe('401, 403, 413', () => {
  it('401 without a token', async () => {
    expect((await service.api(null).get(URL)).status).toBe(401)
    expect((await service.api(null).post(URL, retests())).status).toBe(401)
  })

  it.each([
    ['assistant', 403, 200],
    ['integration', 403, 200],
    ['auditor', 403, 403],
    ['owner', 201, 200],
  ] as const)('the role %s gets %i for pairs and %i for the list', async (role, post, get) => {
    const member = service.api(clinic.tokens[role])
    expect((await member.post(URL, retests())).status).toBe(post)
    expect((await member.get(URL)).status).toBe(get)
  })

  it("another clinic's are in no list", async () => {
    await api.post(URL, retests())
    const elsewhere = service.api((await freshClinic(service)).tokens.clinician)
    expect((await elsewhere.get(URL)).body).toEqual({ items: [], nextCursor: null })
  })

  it('413 above the size that a thousand pairs may have', async () => {
    const answer = await api.post(URL, null, { bytes: `{"pairs": [${'1, '.repeat(100_000)}1]}` })
    expect(answer.body).toMatchObject({ status: 413, limitBytes: 256 * 1024 })
  })
})

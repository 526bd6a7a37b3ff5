import { weighingPlausibility } from '../../compute/index.ts'
import type { LimbWeightQuestion } from '../../domain/calculation-documents.ts'
import type { LazyDocument } from '../../domain/parsed.ts'
import type { Context } from '../context.ts'
import { perform } from '../perform.ts'
import { gravityModelFor } from '../prepare-session/setup-findings.ts'

const torque = (value: number) => ({ value, unit: 'N.m' })

/** The gravity moment of a weighed limb, and whether a limb of that body can weigh so much or so little. */
export async function calculateLimbWeight(ctx: Context, input: { document: LazyDocument<LimbWeightQuestion> }) {
  return perform(ctx, 'calculations.run', (_tx, trace) => {
    trace.detail('calculation', 'limb-weight')
    return Promise.resolve(answer(input.document().value))
  })
}

function answer(asked: LimbWeightQuestion) {
  const { limbWeighing } = asked
  const { momentNm, reason, findings, model } = gravityModelFor(asked, asked.movement ?? null)
  if (momentNm === null) {
    return {
      gravityMoment: { value: null, unit: 'N.m', reason: reason ?? 'limb_not_weighed' },
      model: null,
      plausible: { verdict: 'unknown' as const, reason: 'limb_not_weighed', range: null },
      findings,
    }
  }
  const {
    plausible,
    reason: why,
    lowNm,
    highNm,
  } = weighingPlausibility({
    joint: asked.joint,
    momentNm,
    bodyMassKg: asked.bodyMass?.canonicalValue ?? null,
    heightM: asked.height?.canonicalValue ?? null,
    sex: asked.sex === 'unknown' ? null : asked.sex,
    armTared: limbWeighing.method === 'not_performed' ? 'unknown' : limbWeighing.armTared,
    armAndAttachmentNm: asked.armAndAttachment?.canonicalValue ?? null,
  })
  const range = { low: lowNm === null ? null : torque(lowNm), high: highNm === null ? null : torque(highNm) }
  return {
    gravityMoment: torque(momentNm),
    model: model?.kind ?? null,
    plausible: { verdict: plausible, reason: why, range: lowNm === null && highNm === null ? null : range },
    findings,
  }
}

export * from './asymmetry-equations.ts'
export * from './estimated-pre-injury-capacity.ts'
export {
  limbSymmetryIndex,
  otherLimbVerdict,
  type LimbSymmetry,
  type LimbSymmetryInput,
  type OtherLimb,
} from './limb-symmetry-index.ts'
export * from './limb-symmetry-error.ts'
export * from './pair-limbs.ts'

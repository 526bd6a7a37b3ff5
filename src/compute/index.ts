/** The public surface of the compute core: pure functions, numbers in, numbers out. */
export * from './types.ts'
export * from './parameters.ts'
export * from './version.ts'
export * from './movement-pairs.ts'
export * from './units/index.ts'
export * from './comparability/index.ts'

export * from './numeric/index.ts'
export * from './reliability/index.ts'
export * from './trends/index.ts'
export * from './symmetry/index.ts'
export * from './ratios/index.ts'

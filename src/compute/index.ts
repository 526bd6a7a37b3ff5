/** The public surface of the compute core: pure functions, numbers in, numbers out. */
export * from './units/index.ts'

export * from './descriptive.ts'
export * from './distributions.ts'
export * from './least-squares.ts'

export * from './find-movements.ts'
export * from './load-range.ts'
export * from './isometric-contractions.ts'

export * from './group-ratios.ts'
export * from './strength-ratios.ts'

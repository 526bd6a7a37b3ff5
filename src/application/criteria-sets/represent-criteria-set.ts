import { PUBLISHED_CRITERIA_SETS, type CriteriaSet } from '../../compute/index.ts'

const publishedKeys = new Set(PUBLISHED_CRITERIA_SETS.map((set) => set.key))

export const isPublished = (key: string): boolean => publishedKeys.has(key)

export const representCriteriaSet = (set: CriteriaSet) => ({
  ...set,
  origin: isPublished(set.key) ? 'published' : 'clinic',
})

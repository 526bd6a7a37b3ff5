/** Planting a mutant in a tree, and taking it out again. */
import { mkdirSync, readFileSync, rmSync, writeFileSync } from 'node:fs'
import { join } from 'node:path'
import type { Edit, Mutant } from './mutants.ts'

const MIGRATION = 'prisma/migrations/9999_planted_fault'

/** How often an edit finds its place; anything but once means that the code has moved on and the list has not. */
export const placesOf = (root: string, { file, find }: Edit): number =>
  readFileSync(join(root, file), 'utf8').split(find).length - 1

/** Returns what takes it out again. */
export function plant(root: string, { edits = [], sql }: Mutant): () => void {
  const originals = new Map<string, string>()
  const undo = () => {
    for (const [path, text] of originals) writeFileSync(path, text)
    rmSync(join(root, MIGRATION), { recursive: true, force: true })
  }
  try {
    for (const edit of edits) {
      if (placesOf(root, edit) !== 1) throw new Error(`${edit.file}: what is to be replaced stands there ${placesOf(root, edit)} times`) // prettier-ignore
      const path = join(root, edit.file)
      const text = readFileSync(path, 'utf8')
      if (!originals.has(path)) originals.set(path, text)
      writeFileSync(
        path,
        text.replace(edit.find, () => edit.replace),
      )
    }
    if (sql !== undefined) {
      mkdirSync(join(root, MIGRATION))
      writeFileSync(join(root, MIGRATION, 'migration.sql'), `${sql};\n`)
    }
  } catch (error) {
    undo()
    throw error
  }
  return undo
}

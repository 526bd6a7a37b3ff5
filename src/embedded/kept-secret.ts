import { randomUUID } from 'node:crypto'
import { link, readFile, rm, writeFile } from 'node:fs/promises'

/**
 * A text made once and kept, readable by its owner alone. Two starts at once agree on one: a hard link succeeds for the
 * first alone, and never shows half a file.
 */
export async function keptSecret(path: string, make: () => Promise<string>): Promise<string> {
  const found = await readIfThere(path)
  if (found !== null) return found
  const draft = `${path}.${randomUUID()}.draft`
  await writeFile(draft, await make(), { mode: 0o600 })
  try {
    await link(draft, path)
  } catch (error) {
    if ((error as NodeJS.ErrnoException).code !== 'EEXIST') throw error
  } finally {
    await rm(draft, { force: true })
  }
  return readFile(path, 'utf8')
}

async function readIfThere(path: string): Promise<string | null> {
  try {
    return await readFile(path, 'utf8')
  } catch (error) {
    if ((error as NodeJS.ErrnoException).code === 'ENOENT') return null
    throw error
  }
}

import { readFileSync } from 'node:fs'

export const readme = readFileSync(new URL('../../README.md', import.meta.url), 'utf8')

/** The code words in the first column of the table whose header begins so. */
export function codeWordsOfTable(header: string): string[] {
  const table = readme.slice(readme.indexOf(`| ${header} |`)).split('\n\n', 1)[0] ?? ''
  const firstCells = table.split('\n').slice(2).map((row) => row.split('|')[1] ?? '') // prettier-ignore
  return firstCells.flatMap((cell) => [...cell.matchAll(/`([^`]+)`/g)].map(([, word]) => word ?? ''))
}

import { execFileSync } from 'node:child_process'
import { existsSync, readFileSync, realpathSync } from 'node:fs'
import { join } from 'node:path'

export interface Postmaster {
  readonly pid: number
  readonly port: number
  readonly ready: boolean
}

/**
 * The server that holds this data directory, or null if none does. The file alone proves nothing: after a crash it
 * stays behind, and its number may by now belong to another program (in a container, often to our own process).
 */
export function runningPostmaster(dataDirectory: string): Postmaster | null {
  const file = join(dataDirectory, 'postmaster.pid')
  let lines: string[]
  try {
    lines = readFileSync(file, 'utf8').split('\n')
  } catch {
    return null
  }
  // Lines: pid, data directory, start time, port, socket directory, listen address, shared memory, status.
  const pid = Number(lines[0])
  if (!Number.isInteger(pid) || pid <= 1 || !isServerOf(pid, dataDirectory)) return null
  return { pid, port: Number(lines[3]), ready: lines[7]?.trim() === 'ready' }
}

export function isServerOf(pid: number, dataDirectory: string): boolean {
  const command = commandLine(pid)
  return command.includes('postgres') && [dataDirectory, realpathSync(dataDirectory)].some((d) => command.includes(d))
}

function commandLine(pid: number): string {
  try {
    if (existsSync('/proc/self/cmdline')) return readFileSync(`/proc/${pid}/cmdline`, 'utf8').replaceAll('\0', ' ')
    return execFileSync('ps', ['-o', 'command=', '-p', String(pid)], { encoding: 'utf8' })
  } catch {
    return '' // no such process
  }
}

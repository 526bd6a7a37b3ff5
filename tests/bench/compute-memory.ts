/**
 * How much memory one analysis takes at its peak, in a process of its own: the highest the process was during it, less what
 * it was before with the recording loaded. Includes what the garbage collector has not yet taken back, as a user's machine would.
 */
import { readFileSync, writeFileSync } from 'node:fs'
import { setTimeout } from 'node:timers/promises'
import { analyseRecording } from '../../src/compute/index.ts'
import { BYTES_PER_SAMPLE, longRecording, PROTOCOL } from './long-recording.ts'

/** Linux forgets the highest so far on request; elsewhere it is the highest since the process began, which is more. */
function forgetHighest(): void {
  if (process.platform === 'linux') writeFileSync('/proc/self/clear_refs', '5')
}
function highestBytes(): number {
  if (process.platform !== 'linux') return process.resourceUsage().maxRSS * 1024
  return 1024 * Number(/^VmHWM:\s+(\d+) kB/m.exec(readFileSync('/proc/self/status', 'utf8'))?.[1])
}
/** Buffers are given back by another thread, some time after the collector let go of them. */
async function collect(): Promise<NodeJS.MemoryUsage> {
  for (let i = 0; i < 3; i++) {
    globalThis.gc!()
    await setTimeout(50)
  }
  return process.memoryUsage()
}

const samples = Number(process.argv[2])
// The code is compiled before anything is counted, on recordings so short that what they leave behind hides nothing.
for (let i = 0; i < 20; i++) {
  analyseRecording(longRecording(4_000), PROTOCOL)
  globalThis.gc!()
}
const recording = longRecording(samples)
const before = await collect()
forgetHighest()
const analysis = analyseRecording(recording, PROTOCOL)
const peakBytes = highestBytes() - before.rss
const kept = await collect()
console.log(
  JSON.stringify({
    inputBytes: recording.timeS.length * BYTES_PER_SAMPLE,
    peakBytes,
    keptBytes: kept.arrayBuffers + kept.heapUsed - before.arrayBuffers - before.heapUsed,
    repetitions: analysis.directions.reduce((total, { counted }) => total + counted, 0),
  }),
)

import { existsSync, globSync, readFileSync, writeFileSync } from 'node:fs'
import { registerHooks } from 'node:module'
import { resolve } from 'node:path'
import { pathToFileURL } from 'node:url'
import { collect, collected } from './describe-and-it.js'

// A test of the core takes milliseconds and a mutant meets hundreds of them; a new worker with all modules for every mutant takes
// seconds. So the tests are loaded once, in this process, and a mutant runs those that reach it, quickest first.

const STAND_INS = {
  vitest: new URL('describe-and-it.js', import.meta.url).href,
  'fast-check': new URL('fewer-runs.js', import.meta.url).href,
}
/** Repeats one decision 20,000 times; reads the source, which is another one here; pins tables, whose mutants are static. */
const LEFT_OUT = /planted-no-change|docstring|reference-data/
/**
 * Processor time after which a mutant counts as survived, though slower tests are left: most of the time would go into showing again
 * that nothing notices. So the score is a lower bound.
 */
const BUDGET_MS = 500
/** A mutant reached this many times as often as the code it changes runs for ever. */
const FOR_EVER = 20
/** Counting what a test reaches is most of the time of a filter, and wanted in the first run only. */
const COVER = 'function cover() {'
/** What the first run found, for the processes that follow one that had to be ended. */
const FIRST_RUN = 'first-run.json'

class InProcessRunner {
  #tests = new Map()
  #firstRun = { durations: {}, hits: {} }

  capabilities() {
    return { reloadEnvironment: false }
  }

  async init() {
    registerHooks({
      resolve: (specifier, context, next) =>
        specifier in STAND_INS && context.parentURL?.includes('/tests/')
          ? { url: STAND_INS[specifier], shortCircuit: true }
          : next(specifier, context),
      load: (url, context, next) => {
        const loaded = next(url, context)
        if (!url.includes('/src/compute/')) return loaded
        return {
          ...loaded,
          source: String(loaded.source).replace(COVER, `$& if (ns.activeMutant !== undefined) return;`),
        }
      },
    })
    for (const file of globSync('tests/compute/**/*.test.ts').sort()) {
      if (!LEFT_OUT.test(file)) await collect(resolve(file), () => import(pathToFileURL(resolve(file)).href))
    }
    for (const test of collected) this.#tests.set(`${test.file}#${test.name}`, test)
    if (this.#tests.size !== collected.length) throw new Error('two tests have one name')
    if (existsSync(FIRST_RUN)) this.#firstRun = JSON.parse(readFileSync(FIRST_RUN, 'utf8'))
  }

  async dryRun() {
    const tests = []
    const durations = {}
    for (const [id, { name, file, run }] of this.#tests) {
      this.#stryker.currentTestId = id
      const { failure, timeSpentMs } = await timed(run)
      durations[id] = timeSpentMs
      const outcome = failure === null ? { status: 0 } : { status: 1, failureMessage: failure }
      tests.push({ id, name, fileName: file, timeSpentMs, ...outcome })
    }
    this.#stryker.currentTestId = undefined
    const { mutantCoverage } = this.#stryker
    this.#firstRun = { durations, hits: mutantCoverage.perTest }
    writeFileSync(FIRST_RUN, JSON.stringify(this.#firstRun))
    return { status: 'complete', tests, mutantCoverage }
  }

  async mutantRun({ activeMutant: { id }, testFilter }) {
    const { durations, hits } = this.#firstRun
    const quickestFirst = (testFilter ?? [...this.#tests.keys()]).toSorted((a, b) => durations[a] - durations[b])
    this.#stryker.activeMutant = id
    let nrOfTests = 0
    const before = process.cpuUsage()
    for (const test of quickestFirst) {
      if (process.cpuUsage(before).user > 1000 * BUDGET_MS) break
      const hitLimit = FOR_EVER * (hits[test]?.[id] ?? 1)
      Object.assign(this.#stryker, { hitCount: 0, hitLimit })
      const { failure } = await timed(this.#tests.get(test).run)
      nrOfTests++
      if (this.#stryker.hitCount > hitLimit) return { status: 'timeout', reason: 'runs for ever' }
      if (failure !== null) return { status: 'killed', killedBy: [test], failureMessage: failure, nrOfTests }
    }
    return { status: 'survived', nrOfTests }
  }

  get #stryker() {
    return (globalThis.__stryker__ ??= {})
  }
}

async function timed(run) {
  const start = performance.now()
  let failure = null
  try {
    await run()
  } catch (error) {
    failure = String(error?.message ?? error)
  }
  return { failure, timeSpentMs: performance.now() - start }
}

export const strykerPlugins = [{ kind: 'TestRunner', name: 'in-process', injectableClass: InProcessRunner }]

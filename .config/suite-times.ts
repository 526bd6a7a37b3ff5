import type { Reporter, SerializedError, TestModule, TestRunEndReason } from 'vitest/node'

type Tally = { files: number; tests: number; milliseconds: number }

/**
 * Prints where the time went, one row per folder under tests/, and then one plain line that scripts can read:
 * `N passed, N failed, N skipped`. A file that could not be loaded and an error outside every test count as failed:
 * neither has a test to blame, and a count of zero failures must mean that nothing went wrong.
 */
export class SuiteTimes implements Reporter {
  onTestRunEnd(modules: readonly TestModule[], errors: readonly SerializedError[], reason: TestRunEndReason): void {
    const suites = new Map<string, Tally>()
    const count = { passed: 0, failed: errors.length, skipped: 0 }
    for (const module of modules) {
      const name = suiteOf(module)
      const tally = suites.get(name) ?? { files: 0, tests: 0, milliseconds: 0 }
      suites.set(name, tally)
      const { collectDuration, duration, prepareDuration, setupDuration } = module.diagnostic()
      tally.files += 1
      tally.milliseconds += collectDuration + duration + prepareDuration + setupDuration
      let failedTests = 0
      for (const test of module.children.allTests()) {
        const { state } = test.result()
        tally.tests += 1
        if (state === 'passed') count.passed += 1
        else if (state === 'failed') failedTests += 1
        else count.skipped += 1
      }
      count.failed += module.ok() ? failedTests : Math.max(failedTests, 1)
    }
    // A global setup that breaks ends the run before any file: it leaves neither a module nor an error here.
    if (reason !== 'passed' && count.failed === 0) count.failed = 1
    const rows = [...suites].sort(([, a], [, b]) => b.milliseconds - a.milliseconds)
    const width = Math.max(5, ...rows.map(([name]) => name.length))
    const print = (name: string, files: string, tests: string, seconds: string) =>
      process.stdout.write(
        `  ${name.padEnd(width)}  ${files.padStart(5)}  ${tests.padStart(5)}  ${seconds.padStart(8)}\n`,
      )
    print('suite', 'files', 'tests', 'seconds')
    for (const [name, { files, tests, milliseconds }] of rows)
      print(name, String(files), String(tests), (milliseconds / 1000).toFixed(1))
    process.stdout.write(`${count.passed} passed, ${count.failed} failed, ${count.skipped} skipped\n`)
  }
}

function suiteOf(module: TestModule): string {
  const [, folder, file] = module.relativeModuleId.split('/')
  return `${module.project.name} ${file === undefined ? 'tests' : folder}`
}

// Ends a test run with one plain line, `12 passed, 0 failed, 3 skipped`, for readers that know no test runner. Where CI is
// set, a run that skipped a test has failed: there every tool that the tests use is installed.
import type { Reporter, TestCase, TestModule } from 'vitest/node'

export default class ClosingLine implements Reporter {
  onTestRunEnd(modules: readonly TestModule[]): void {
    const count = { passed: 0, failed: 0, skipped: 0, pending: 0 }
    const skipped: TestCase[] = []
    for (const module of modules) {
      for (const test of module.children.allTests()) {
        const { state } = test.result()
        count[state]++
        if (state === 'skipped' || state === 'pending') skipped.push(test)
      }
      // A file that could not even be loaded has no tests to count.
      if (module.errors().length > 0) count.failed++
    }
    if (skipped.length > 0 && process.env.CI) {
      process.stdout.write('\nNo test may be skipped where CI is set:\n')
      for (const test of skipped)
        process.stdout.write(`  ${test.module.relativeModuleId}: ${test.fullName}\n`)
      process.exitCode = 1
    }
    const last = skipped.length > 0 ? `, ${skipped.length} skipped` : ''
    process.stdout.write(`\n${count.passed} passed, ${count.failed} failed${last}\n`)
  }
}

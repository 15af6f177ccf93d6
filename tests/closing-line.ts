// Ends a test run with one plain line, `12 passed, 0 failed, 3 skipped`, for readers that know no test runner.
import type { Reporter, TestModule } from 'vitest/node'

export default class ClosingLine implements Reporter {
  onTestRunEnd(modules: readonly TestModule[]): void {
    const count = { passed: 0, failed: 0, skipped: 0, pending: 0 }
    for (const module of modules) {
      for (const test of module.children.allTests()) count[test.result().state]++
      // A file that could not even be loaded has no tests to count.
      if (module.errors().length > 0) count.failed++
    }
    const skipped = count.skipped + count.pending
    process.stdout.write(
      `\n${count.passed} passed, ${count.failed} failed${skipped > 0 ? `, ${skipped} skipped` : ''}\n`,
    )
  }
}

import type { Reporter, TestModule } from 'vitest/node';

/** Prints the plain closing line that continuous integration reads: `N passed, N failed, N skipped`. */
export default class ClosingLine implements Reporter {
  onTestRunEnd(modules: readonly TestModule[], unhandledErrors: readonly unknown[]): void {
    const count = { passed: 0, failed: unhandledErrors.length, skipped: 0 };
    for (const module of modules) {
      const tests = [...module.children.allTests()];
      // A file that could not even be loaded holds no test: it still counts as a failure.
      if (module.state() === 'failed' && tests.every((test) => test.result().state !== 'failed'))
        count.failed++;
      for (const test of tests) {
        const state = test.result().state;
        if (state === 'passed') count.passed++;
        else if (state === 'failed') count.failed++;
        else count.skipped++;
      }
    }
    // Nothing ran at all, for instance because the set-up failed: that is no success.
    if (count.passed + count.failed === 0) count.failed = 1;
    const skipped = count.skipped > 0 ? `, ${count.skipped} skipped` : '';
    // On exit, so that nothing of the runner's own summary follows it.
    process.on('exit', () => console.log(`${count.passed} passed, ${count.failed} failed${skipped}`));
  }
}

import { defineConfig } from 'vitest/config'

export default defineConfig({
  test: {
    dir: 'tests',
    // A machine that is busy otherwise is no failure.
    testTimeout: 30_000,
    hookTimeout: 60_000,
    // What is kept of scratch too long shows as NaN: see src/kernels/workspace.ts.
    env: { OFFCUT_POISON: '1' },
    // npm run coverage: what runs inside the page, in WebAssembly or on another thread is not seen by it.
    coverage: {
      provider: 'v8',
      include: ['src/**/*.{ts,tsx}'],
      exclude: ['src/kernels/assembly/**', 'src/sheet/page/**', '**/*.d.ts'],
      reporter: ['text'],
      reportOnFailure: true,
    },
    globalSetup: './tests/own-cache.ts',
    reporters: ['default', './tests/closing-line.ts'],
  },
})

import { defineConfig } from 'vitest/config'

/** What changes or watches the process itself (environment, working folder, streams, memory, borrowed functions of modules). */
const ALONE = [
  'tests/browser/**/*.test.ts',
  'tests/cli/**/*.test.ts',
  'tests/demo/**/*.test.ts',
  'tests/eval/**/*.test.ts',
  'tests/footage/exr/reader.test.ts',
  'tests/footage/movie/**/*.test.ts',
  'tests/footage/read-many.test.ts',
  'tests/footage/stills/reader.test.ts',
  'tests/footage/write/file.test.ts',
  'tests/library.test.ts',
  'tests/repair/movie.test.ts',
  'tests/search/headers.test.ts',
  'tests/sheet/pdf.test.ts',
  'tests/track/cached-halves.test.ts',
  'tests/turns.test.ts',
]

export default defineConfig({
  test: {
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
    // By default one core is left to vitest itself, which hardly needs it.
    maxWorkers: '100%',
    projects: [
      { extends: true, test: { name: 'alone', include: ALONE, sequence: { groupOrder: 0 } } },
      // One process for all of them: each would spend half a second on starting and on loading the same modules again.
      {
        extends: true,
        test: {
          name: 'together',
          include: ['tests/**/*.test.ts'],
          exclude: ALONE,
          isolate: false,
          sequence: { groupOrder: 1 },
        },
      },
    ],
    reporters: ['default', './tests/closing-line.ts'],
  },
})

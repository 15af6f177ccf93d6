import { defineConfig } from 'vitest/config'

export default defineConfig({
  test: {
    dir: 'tests',
    // What is kept of scratch too long shows as NaN: see src/kernels/workspace.ts.
    env: { OFFCUT_POISON: '1' },
    globalSetup: './tests/own-cache.ts',
    reporters: ['default', './tests/closing-line.ts'],
  },
})

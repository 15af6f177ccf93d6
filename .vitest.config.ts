import { defineConfig } from 'vitest/config'

export default defineConfig({
  test: {
    dir: 'tests',
    globalSetup: './tests/own-cache.ts',
    reporters: ['default', './tests/closing-line.ts'],
  },
})

#!/usr/bin/env node
// Of what is loaded before this no line of the source can be told.
if (process.argv.includes('--debug')) process.setSourceMapsEnabled(true)
const { run } = await import('../dist/cli/run.js')
process.exitCode = await run(process.argv.slice(2), process)

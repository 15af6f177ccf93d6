// Starts a script of the tests that is no test: `node tests/run.mjs tests/eval/main.ts ...`.
import { rm } from 'node:fs/promises'
import { dirname, join, resolve } from 'node:path'
import { fileURLToPath, pathToFileURL } from 'node:url'
import { transpile } from './transpile.mjs'

const top = resolve(dirname(fileURLToPath(import.meta.url)), '..')
const [entry, ...args] = process.argv.slice(2)
// Below node_modules so that packages resolve; one folder per process so that runs may overlap.
const out = join(top, 'node_modules', '.cache', `offcut-run-${process.pid}`)

process.on('SIGINT', () => process.exit(130))
try {
  await transpile(out, ['tests/*.ts', `${dirname(entry)}/*.ts`], { sourcemap: 'inline' })
  process.argv = [process.argv[0], join(top, entry), ...args]
  process.setSourceMapsEnabled(true)
  const { main } = await import(pathToFileURL(join(out, entry.replace(/\.ts$/, '.js'))).href)
  process.exitCode = (await main(args)) ?? 0
} catch (error) {
  process.stderr.write(`${error.exitCode === undefined ? error.stack : error.message}\n`)
  process.exitCode = error.exitCode ?? 1
} finally {
  await rm(out, { recursive: true, force: true })
}
// Worker threads of the library may still idle; the work is done.
process.exit()

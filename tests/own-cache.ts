// Gives a test run a cache folder of its own, so that it neither fills nor believes the user's, and one for what threads load.
import { mkdtempSync, rmSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { join, resolve } from 'node:path'

export default function ownCache(): () => void {
  const folder = mkdtempSync(join(tmpdir(), 'offcut-test-cache-'))
  // Where env-paths looks on Linux and on Windows; tests' children inherit it.
  process.env.XDG_CACHE_HOME = folder
  process.env.LOCALAPPDATA = folder
  // Below node_modules, so that packages resolve from there. A thread that is given up may still be loading when its test ends.
  const loaded = resolve('node_modules', '.cache', `offcut-test-${process.pid}`)
  process.env.OFFCUT_TRANSPILED = loaded
  return () => {
    for (const made of [folder, loaded]) rmSync(made, { recursive: true, force: true })
  }
}

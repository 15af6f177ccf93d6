// Gives a test run a cache folder of its own, so that it neither fills nor believes the user's.
import { mkdtempSync, rmSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { join } from 'node:path'

export default function ownCache(): () => void {
  const folder = mkdtempSync(join(tmpdir(), 'offcut-test-cache-'))
  // Where env-paths looks on Linux and on Windows; tests' children inherit it.
  process.env.XDG_CACHE_HOME = folder
  process.env.LOCALAPPDATA = folder
  return () => rmSync(folder, { recursive: true, force: true })
}

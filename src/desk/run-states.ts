// What became of the commands of a shot, told by its state and by what lies on disk.
import { readFile } from 'node:fs/promises'
import { join } from 'node:path'
import { patchSchema } from '../repair/hand-over/patch.js'
import { readResult } from '../search/result-file.js'
import type { Run, ShotState } from './shot-state.js'

/** The state with one of its runs changed. @param folder of the run, below the shot's */
export function withRun(state: ShotState, folder: string, change: <R extends Run>(run: R) => R): ShotState {
  const changed = <R extends Run>(run: R): R => (run.folder === folder ? change(run) : run)
  const searches = state.searches.map((search) =>
    changed({ ...search, patches: search.patches.map((patch) => changed(patch)) }),
  )
  return { ...state, searches }
}

/**
 * Of a desk that was killed: its commands have ended with it, and what they wrote appeared whole or not at all.
 *
 * @param folder of the shot @returns the same state where nothing was running
 */
export async function settled(state: ShotState, folder: string): Promise<ShotState> {
  let known = state
  for (const search of state.searches) {
    for (const [run, isWhole] of [
      [search, hasResult],
      ...search.patches.map((patch) => [patch, hasPatch] as const),
    ] as const) {
      if (run.state !== 'running') continue
      const ended = (await isWhole(join(folder, run.folder))) ? 'done' : 'stopped'
      known = withRun(known, run.folder, (r) => ({ ...r, state: ended }))
    }
  }
  return known
}

async function hasResult(folder: string): Promise<boolean> {
  return readResult(folder).then(
    () => true,
    () => false,
  )
}

async function hasPatch(folder: string): Promise<boolean> {
  try {
    return patchSchema.safeParse(JSON.parse(await readFile(join(folder, 'patch.json'), 'utf8'))).success
  } catch {
    return false
  }
}

// The folder of several results in one sequence: its frames, and what is handed over with them.
import { FEATHER_PX } from '../defaults.js'
import { framesInWords } from '../footage/frames.js'
import { cutWarnings } from '../repair/hand-over/cut-warnings.js'
import { describePatch } from '../repair/hand-over/describe.js'
import { excessWarnings } from '../repair/hand-over/excess.js'
import { finishWarnings } from '../repair/hand-over/finish-warnings.js'
import { jointPatch } from '../repair/hand-over/joint.js'
import type { Patch } from '../repair/hand-over/patch.js'
import { readBack } from '../repair/hand-over/read-back.js'
import { sharpnessWarnings } from '../repair/hand-over/sharpness-warnings.js'
import { writeHandOvers } from '../repair/hand-over/write.js'
import { jointOf } from '../repair/joint.js'
import { type Layer, type SeveralOptions, writeSeveral } from '../repair/several.js'
import { framesToWrite, wholeEnding } from '../repair/write.js'
import { missing, writeCheck } from './check/write-check.js'
import { kindOf } from './patch-folder.js'

/** What lies in the folder. */
export interface SeveralPatches {
  /** All together: what check.html shows, with all that is to be said. */
  readonly joint: Patch
  /** Of each result, as its patch-1.json and so on tell it. */
  readonly patches: readonly Patch[]
}

/**
 * Writes picks of several results over one plate into an empty folder as one sequence, reads it back, and writes beside it
 * patch-1.json and .csv for each, patch.otio with a track for each, and check.html of all together.
 *
 * @param layers of hides over one plate, the lowest first
 * @throws as writeSeveral, readBack and writeCheck
 */
export async function writeSeveralFolder(
  folder: string,
  layers: readonly Layer[],
  options: SeveralOptions = {},
): Promise<SeveralPatches> {
  const { whole = false, format = 'exr', featherPx = FEATHER_PX, featherSide = 'outside', signal } = options
  const { membrane = false, addGrain = true, onProgress } = options
  const { job, candidates } = jointOf(layers)
  const { files, overlaps, clipped, told } = await writeSeveral(layers, folder, options)
  const ending = whole ? wholeEnding(job.target) : format
  const written = { what: kindOf({ whole, ratio: false }), format: ending, featherPx, featherSide } as const
  const made = layers.map((layer, i) => {
    const names = framesToWrite(layer.job, layer.candidate).map(({ target }) => files.get(target)!)
    const how = { ...written, membrane, addGrain, ...told[i]! }
    const patch = describePatch(layer.job, layer.candidate, names, how)
    const cut = cutWarnings(layer.job.result, layer.candidate)
    return { ...patch, warnings: [...cut, ...finishWarnings(patch), ...sharpnessWarnings(patch)] }
  })
  const together = jointPatch(made, job.region.window, files)
  const excess = { clipped: new Map(clipped), beyondLight: new Map() }
  const ofAll = [
    ...overlapWarnings(overlaps),
    ...excessWarnings(excess, { whole, ratio: false, format }),
    ...(await readBack(folder, job, together, { onProgress, signal })),
  ]
  const patches = made.map((patch) => ({ ...patch, warnings: [...patch.warnings, ...ofAll] }))
  const own = made.flatMap((patch, i) =>
    [...patch.warnings, ...missing(patch)].map((text) => `result ${i + 1}, ${patch.candidate.id}: ${text}`),
  )
  const joint = { ...together, warnings: [...own, ...ofAll] }
  await writeHandOvers(
    folder,
    job.target,
    patches.map((patch, i) => ({ patch, donors: layers[i]!.job.donors })),
  )
  await writeCheck(folder, job, candidates, joint, { onProgress, signal, results: patches })
  return { joint, patches }
}

function overlapWarnings(overlaps: readonly { readonly frame: number; readonly pixels: number }[]): string[] {
  if (overlaps.length === 0) return []
  const most = Math.max(...overlaps.map((o) => o.pixels))
  const on = `on ${framesInWords(overlaps.map((o) => o.frame))}`
  return [`${on} up to ${most} pixels are patched more than once: the later result lies on top`]
}

// The folder of a patch: its frames, and what is handed over with them.
import { FEATHER_PX, type FeatherSide, type PatchFormat } from '../defaults.js'
import type { OnProgress } from '../progress.js'
import type { Offset } from '../raster/transform.js'
import type { PatchFinish } from '../repair/finish/finish.js'
import { cutLightWarnings, cutWarnings } from '../repair/hand-over/cut-warnings.js'
import { describePatch, type Written } from '../repair/hand-over/describe.js'
import { type Excess, excessWarnings } from '../repair/hand-over/excess.js'
import { finishWarnings } from '../repair/hand-over/finish-warnings.js'
import type { Patch } from '../repair/hand-over/patch.js'
import { readBack } from '../repair/hand-over/read-back.js'
import { sharpnessWarnings } from '../repair/hand-over/sharpness-warnings.js'
import { writeHandOver } from '../repair/hand-over/write.js'
import type { DonorSharpness } from '../repair/hide/donor-sharpness.js'
import type { SeenOfFrame } from '../repair/hide/seen-of-frame.js'
import { writeLighting } from '../repair/lighting/write.js'
import type { RepairJob } from '../repair/repair.js'
import { wholeEnding, writeCandidate } from '../repair/write.js'
import type { Fade } from '../search/borrow/fade.js'
import type { Side } from '../search/mask-edges.js'
import type { Candidate } from '../search/result.js'
import { writeCheck } from './check/write-check.js'

export interface PatchFolderOptions {
  /** The repaired full frames instead of the patch. Default: false. */
  readonly whole?: boolean
  /** The change of light alone, of a borrow. Default: where the candidate is a moment. */
  readonly ratio?: boolean
  readonly featherPx?: number
  readonly featherSide?: FeatherSide
  /** By which the candidate was moved by hand already: it is handed over. */
  readonly by?: Offset
  /** Of a ratio. */
  readonly strength?: number
  readonly fade?: Fade
  /** Of a patch; see WriteOptions. */
  readonly membrane?: boolean
  readonly addGrain?: boolean
  readonly format?: PatchFormat
  readonly onProgress?: OnProgress
  readonly signal?: AbortSignal
}

/** What a folder shows, as it is named by it. */
export function kindOf({
  whole,
  ratio,
}: {
  readonly whole: boolean
  readonly ratio: boolean
}): Patch['what'] {
  if (whole) return ratio ? 'borrowed' : 'repaired'
  return ratio ? 'ratio' : 'patch'
}

/**
 * Writes a candidate's frames into an empty folder, reads them back, and writes patch.json, patch.csv, patch.otio and
 * check.html beside them.
 *
 * @returns what patch.json says; its warnings are what the mask leaves standing, what the files could not hold, and what reading them back found
 * @throws as writeCandidate, writeLighting, readBack and writeCheck
 */
export async function writePatchFolder(
  folder: string,
  job: RepairJob,
  candidate: Candidate,
  options: PatchFolderOptions = {},
): Promise<Patch> {
  const {
    whole = false,
    ratio = candidate.moment !== undefined,
    by,
    membrane = false,
    addGrain = true,
    format = 'exr',
  } = options
  const { featherPx = FEATHER_PX, featherSide = 'outside', strength, fade, onProgress, signal } = options
  const excess: Excess = { clipped: new Map(), beyondLight: new Map() }
  const onClipped = (frame: number, most: number) => excess.clipped.set(frame, most)
  const cut = new Map<number, ReadonlyMap<Side, number>>()
  const onCut = (frame: number, sides: ReadonlyMap<Side, number>) => void cut.set(frame, sides)
  const onBeyondLight = (frame: number, stops: number) => excess.beyondLight.set(frame, stops)
  let finish: PatchFinish | undefined
  // A moment's frames are meant to differ from the plate: that is what is borrowed.
  const onFinish =
    candidate.moment === undefined
      ? (of: PatchFinish) => {
          finish = of
        }
      : undefined
  const seen = new Map<number, SeenOfFrame>()
  const onSeen = (frame: number, of: SeenOfFrame) => void seen.set(frame, of)
  let sharpness: DonorSharpness | undefined
  const onSharpness = (of: DonorSharpness) => {
    sharpness = of
  }
  const shared = { whole, featherPx, featherSide, onClipped, onProgress, signal }
  const names = ratio
    ? await writeLighting(job, candidate, folder, { ...shared, strength, fade, onBeyondLight, onCut })
    : await writeCandidate(job, candidate, folder, {
        ...shared,
        format,
        membrane,
        addGrain,
        onFinish,
        onSharpness,
        onSeen,
      })
  const written: Written = {
    what: kindOf({ whole, ratio }),
    format: whole ? wholeEnding(job.target) : ratio ? 'exr' : format,
    ...{ featherPx, featherSide, by, membrane, addGrain, strength, fade, finish, sharpness, seen },
  }
  const made = describePatch(job, candidate, names, written)
  const found = await readBack(folder, job, made, { onProgress, signal })
  const patch = {
    ...made,
    warnings: [
      ...cutWarnings(job.result, candidate),
      ...cutLightWarnings(cut, candidate.moment?.what),
      ...excessWarnings(excess, { whole, ratio, format }),
      ...finishWarnings(made),
      ...sharpnessWarnings(made),
      ...found,
    ],
  }
  await writeHandOver(folder, job, patch)
  await writeCheck(folder, job, [candidate], patch, { onProgress, signal })
  return patch
}

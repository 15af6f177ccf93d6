// How much sharper or softer a candidate's donors are than the frames that they lend to: one number for all of them, since focus
// does not jump from frame to frame, and a blur that did would be seen.
import { middleValue } from '../../match/selection.js'
import type { Frame } from '../../raster/frame.js'
import type { Candidate, FrameMatch } from '../../search/result.js'
import { GREEN } from '../grain/detail-spectrum.js'
import { lentGrain } from '../grain/lacking.js'
import { type GrainModel, type Spectrum, TILE_PX } from '../grain/model.js'
import type { RepairJob } from '../repair.js'
import { tilesWithin } from '../sharpness/compare.js'
import { type Pair, sigmaBetween } from '../sharpness/match.js'
import { type BlendedAsShot, blend } from './blend.js'
import { lendersOf } from './lent-donors.js'
import type { PlateGrain } from './plate-grain.js'
import { seenTarget } from './seen-target.js'

/** So many frames, spread over the range, tell; the middle one of what they tell counts. */
const FRAMES = 5
/** Within this of 1, what the search found of detail, donor over target, is not looked at again. */
const ALIKE = 1.1
/**
 * Less blur than this, pixels, is none: it takes 7 per cent of contrast from waves of 8 pixels, 27 from those of 4. Frames of one
 * lens in focus were told apart by up to 0.48 on a plaza whose codec spends now more, now less, and by more on a road with
 * hardly a line, which is why the search must have found the same.
 */
const MIN_SIGMA = 0.5

export interface DonorSharpness {
  /** Sigma of the Gaussian by which lent pixels are blurred, pixels; 0: they are lent as sharp as they are. */
  readonly blurPx: number
  /** Sigma of the Gaussian by which the donors are softer than the plate, pixels; 0: they are not. */
  readonly softerPx: number
}

const AS_SHARP: DonorSharpness = { blurPx: 0, softerPx: 0 }

/**
 * What is told under the grain of the surround, on which both are seen, and under the region's own: where a codec spends
 * more on one than on the other, only what both tell is taken for the lens.
 *
 * @param grain of the plate, which has gradients of its own
 * @throws as blend
 */
export async function donorSharpness(
  job: RepairJob,
  candidate: Candidate,
  grain: () => Promise<PlateGrain | null>,
): Promise<DonorSharpness> {
  const { sharpness, frames } = candidate
  if (sharpness === null || Math.max(sharpness, 1 / sharpness) < ALIKE) return AS_SHARP
  const measured = await grain()
  if (measured === null) return AS_SHARP
  const models = [...new Set([measured.beside, measured.within])]
  const found = models.map((): number[] => [])
  const every = Math.max(1, frames.length / FRAMES)
  for (let k = every / 2; k < frames.length; k += every) {
    const { keptUnder, ...pictures } = await pairOf(job, candidate, frames[Math.floor(k)]!)
    for (const [m, model] of models.entries()) {
      const pair = { ...pictures, kept: keptUnder(model) }
      const sigma = sharpness > 1 ? sigmaBetween(pair, model) : softer(pair, model)
      if (sigma !== null) found[m]!.push(sigma)
    }
  }
  // One frame of five in which something passes tells nothing of the lens.
  if (found.some(({ length }) => length * 2 <= Math.min(FRAMES, frames.length))) return AS_SHARP
  const [sigma] = found.map(middleValue).sort((a, b) => Math.abs(a) - Math.abs(b)) as [number]
  if (Math.abs(sigma) < MIN_SIGMA) return AS_SHARP
  return sigma > 0 ? { blurPx: sigma, softerPx: 0 } : { blurPx: 0, softerPx: -sigma }
}

/** Below 0: the target is what a blur would make as soft as the donor. */
function softer({ target, donor, there, tiles, kept }: Pair, model: GrainModel): number | null {
  const swapped = { target: donor, donor: target, kept: { target: kept.donor, donor: kept.target } }
  const sigma = sigmaBetween({ ...swapped, there: new Uint8Array(there.length).fill(1), tiles }, model)
  return sigma === null ? null : -sigma
}

interface Pictures extends Omit<Pair, 'kept'> {
  readonly keptUnder: (model: GrainModel) => Pair['kept']
}

async function pairOf(job: RepairJob, candidate: Candidate, match: FrameMatch): Promise<Pictures> {
  const { region } = job
  const held = job.workspace.hold()
  try {
    const lent = await blend(job, match, candidate.map, held, null)
    const seen = await seenTarget(job, match.target)
    const keptUnder = (model: GrainModel) =>
      keptOf(lentGrain(model, lendersOf(match), undefined, region.window, candidate.grain).kept)
    return { ...picturesOver(job, match, seen, lent), keptUnder }
  } finally {
    held.release()
  }
}

/** @param kept share of the plate's grain that the lent pixels have */
export function pairOver(
  job: RepairJob,
  match: FrameMatch,
  seen: Frame,
  lent: Pick<BlendedAsShot, 'raw' | 'there'>,
  kept: Readonly<Spectrum>,
): Pair {
  return { ...picturesOver(job, match, seen, lent), kept: keptOf(kept) }
}

function picturesOver(
  { region: { window, frames }, target: { clipLevel } }: RepairJob,
  match: FrameMatch,
  seen: Frame,
  { raw, there }: Pick<BlendedAsShot, 'raw' | 'there'>,
): Omit<Pair, 'kept'> {
  const { surround } = frames.get(match.target)!
  // A window that reaches beyond the picture has no numbers there.
  const counts = (i: number) => surround[i]! > 0 && there[i] === 1 && seen.data[3 * i + GREEN]! < clipLevel
  return { target: seen, donor: raw, there, tiles: tilesWithin(counts, window.w, window.h) }
}

/** The target has all of it. */
function keptOf(donor: Readonly<Spectrum>): Pair['kept'] {
  return { target: new Float64Array(TILE_PX * TILE_PX).fill(1), donor }
}

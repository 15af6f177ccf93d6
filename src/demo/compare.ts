// How near a repair of the demo footage comes to what the scene shows with nobody there.
import { encode } from '../colour/transfer.js'
import type { Rect } from '../raster/rect.js'
import { apply, invert, type Placement, transformOf } from '../raster/transform.js'
import { HidePass } from '../repair/hide/hide-pass.js'
import type { RepairedFrame, RepairJob } from '../repair/repair.js'
import type { Candidate, FrameMatch } from '../search/result.js'
import { cleanFrame, type MarketTruth, type SceneTruth } from './scene.js'
import { cleanTripodFrame, type TripodTruth } from './tripod.js'

export interface Closeness {
  /** PSNR of the repair inside the mask over all target frames: display-encoded values, peak 1, dB. */
  readonly repair: number
  /** The same of the plate's own pixels round the mask: grain is all that parts them from the truth. */
  readonly grain: number
  /** RMS error of the 2D offsets, pixels; of a mosaic, over all its pieces. */
  readonly offsetPx: number
}

/** @throws FRAME_UNREADABLE, FRAME_MISSING from the footage */
export function compareWithTruth(
  job: RepairJob,
  best: Candidate,
  truth: SceneTruth | MarketTruth | TripodTruth,
): Promise<Closeness> {
  const { width } = truth.plate
  return 'take' in truth
    ? compare(job, best, {
        width,
        cleanAt: cleanTripodFrame,
        errorsOf: (match, rect) => placeErrors(match, rect, truth),
      })
    : compare(job, best, {
        width,
        cleanAt: (frame) => cleanFrame(truth, frame).data,
        errorsOf: (match) => offsetErrors(match, truth),
      })
}

interface Known {
  readonly width: number
  /** A frame without who was hidden, linear RGB. */
  readonly cleanAt: (frame: number) => Readonly<Float32Array>
  /** Square distances of where donors were laid from where they belong, pixels; the second is what was repaired. */
  readonly errorsOf: (match: FrameMatch, rect: Rect) => number[]
}

async function compare(
  job: RepairJob,
  best: Candidate,
  { width, cleanAt, errorsOf }: Known,
): Promise<Closeness> {
  let squares = 0
  let grain = 0
  let pixels = 0
  let grainPixels = 0
  let offset = 0
  let offsets = 0
  // Grain that is put back is right for the eye, and as far from a plate without noise as the plate's own.
  const pass = new HidePass(job, best, { addGrain: false })
  for (const match of best.frames) {
    const made = await pass.repair(match)
    const clean = cleanAt(match.target)
    const inside = squareError(made, made.repaired.data, clean, width, (i) => made.mask[i] > 0)
    const outside = squareError(made, made.target.data, clean, width, (i) => made.alpha[i] === 0)
    squares += inside.sum
    pixels += inside.count
    grain += outside.sum
    grainPixels += outside.count
    for (const error of errorsOf(match, made.rect)) {
      offset += error
      offsets++
    }
  }
  const decibels = (sum: number, count: number) => -10 * Math.log10(sum / Math.max(1, count))
  return {
    repair: decibels(squares, pixels),
    grain: decibels(grain, grainPixels),
    offsetPx: Math.sqrt(offset / offsets),
  }
}

/** The same under a camera that moves, at the middle of what was repaired. */
function placeErrors(match: FrameMatch, rect: Rect, { cameras, take, plate }: TripodTruth): number[] {
  const cameraOf = (frame: number) => cameras[frame - plate.first].toFrame
  const [x, y] = [rect.x + rect.w / 2, rect.y + rect.h / 2]
  const wide = apply(invert(cameraOf(match.target)), x, y)
  return (match.pieces ?? match.stack ?? [{ ...match, frame: match.donor }]).map((one) => {
    const from = one.plate === 0 ? cameraOf(one.frame) : take.toFrame
    const source = apply(from, wide.x, wide.y)
    const laid = apply(transformOf(one as Placement), source.x, source.y)
    return (laid.x - x) ** 2 + (laid.y - y) ** 2
  })
}

/** Square distance of each offset used on a frame from the true one: the target's sway less the donor's. */
function offsetErrors(match: FrameMatch, { frames, plate }: SceneTruth | MarketTruth): number[] {
  const swayOf = (number: number) => frames[number - plate.first]
  const to = swayOf(match.target)
  const used = match.pieces ?? [{ frame: match.donor, dx: match.dx, dy: match.dy }]
  return used.map(({ frame, dx, dy }) => {
    const from = swayOf(frame)
    return (dx - (to.dx - from.dx)) ** 2 + (dy - (to.dy - from.dy)) ** 2
  })
}

function squareError(
  { rect }: RepairedFrame,
  picture: Readonly<Float32Array>,
  clean: Readonly<Float32Array>,
  plateWidth: number,
  counts: (pixel: number) => boolean,
): { sum: number; count: number } {
  let sum = 0
  let count = 0
  for (let y = 0, i = 0; y < rect.h; y++) {
    let at = ((rect.y + y) * plateWidth + rect.x) * 3
    for (let x = 0; x < rect.w; x++, i++, at += 3) {
      if (!counts(i)) continue
      for (let c = 0; c < 3; c++) {
        sum += (encode(picture[3 * i + c], 'srgb') - encode(clean[at + c], 'srgb')) ** 2
        count++
      }
    }
  }
  return { sum, count }
}

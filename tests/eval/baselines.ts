// What is at hand today: a masked template match looped over every frame, and the temporal median.
import { openPlate, readRect } from '../../src/footage/plate.js'
import { grow, type Rect } from '../../src/raster/rect.js'
import { loadOpenCv, maskedCoefficients, type OpenCv } from '../opencv.js'
import { type Picture, picture } from '../resample.js'
import type { Case } from './case.js'
import { middleOf } from './case.js'
import { toDisplay } from './footage.js'
import { pictureOf } from './oracle.js'
import { plateFolder, readTruth } from './plant.js'
import { inRegion, regionPixels } from './region.js'
import { psnr, squaredError, total } from './score.js'

export interface Baseline {
  readonly middle: number
  readonly window: number
}

export interface TemplatePick extends Baseline {
  readonly donor: number
}

const SURROUND = 24
const REACH = 16

type Rects = ReadonlyMap<number, Picture>

export async function runBaselines(
  folder: string,
  planted: Case,
): Promise<{ template: TemplatePick; median: Baseline }> {
  const plate = await openPlate(plateFolder(folder))
  const near = grow(planted.box, SURROUND + REACH)
  const read = new Map<number, Picture>()
  for (const frame of planted.frames) read.set(frame, pictureOf(await readRect(plate, frame, near)))
  const judge = await judgeOf(folder, planted)
  return {
    template: pickByTemplate(await loadOpenCv(), planted, read, judge),
    median: takeMedian(planted, read, judge),
  }
}

type Judge = (repair: (target: number) => Picture) => Baseline

/** Scores repairs that are given as pictures of the region's box. */
async function judgeOf(folder: string, { box, crop, window }: Case): Promise<Judge> {
  const at = regionPixels({ ...box, x: 0, y: 0 }, box.w)
  const truthAt = regionPixels(box, crop.w)
  const truths = await Promise.all(window.frames.map((f) => readTruth(folder, f)))
  return (repair) => {
    const errors = window.frames.map((f, i) => squaredError(repair(f), truths[i], at, truthAt))
    return { middle: psnr(errors[window.frames.indexOf(middleOf(window))]), window: psnr(total(errors)) }
  }
}

/**
 * Highest TM_CCOEFF_NORMED of the surround at the middle frame, whole pixels, no gain; the same donor is laid on the
 * other frames at their own best offset.
 */
function pickByTemplate(cv: OpenCv, planted: Case, read: Rects, judge: Judge): TemplatePick {
  const { box, frames, window } = planted
  const around = grow({ ...box, x: SURROUND + REACH, y: SURROUND + REACH }, SURROUND)
  const ring = Float32Array.from({ length: around.w * around.h }, (_, i) =>
    inRegion(box, (i % around.w) - SURROUND, Math.floor(i / around.w) - SURROUND) ? 0 : 1,
  )
  const grey = new Map([...read].map(([frame, rgb]) => [frame, greyOf(rgb)]))
  const peak = (target: number, donor: number) => {
    const surface = maskedCoefficients(cv, grey.get(donor)!, cut(grey.get(target)!, around), ring)
    let best = { value: Number.NEGATIVE_INFINITY, x: 0, y: 0 }
    for (const [i, value] of surface.data.entries()) {
      // Off the scale is how this OpenCV reports a flat window.
      if (value <= 1.001 && value > best.value) {
        best = { value, x: i % surface.width, y: Math.floor(i / surface.width) }
      }
    }
    return best
  }
  let pick = { donor: 0, value: Number.NEGATIVE_INFINITY }
  for (const donor of frames) {
    if (window.frames.includes(donor)) continue
    const { value } = peak(middleOf(window), donor)
    if (value > pick.value) pick = { donor, value }
  }
  const scores = judge((target) => {
    const { x, y } = peak(target, pick.donor)
    return cutRgb(read.get(pick.donor)!, { x: x + SURROUND, y: y + SURROUND, w: box.w, h: box.h })
  })
  return { donor: pick.donor, ...scores }
}

/** The median of every pixel over all frames outside the window, where it stands. */
function takeMedian({ box, frames, window }: Case, read: Rects, judge: Judge): Baseline {
  const donors = frames.filter((f) => !window.frames.includes(f)).map((f) => read.get(f)!)
  const width = donors[0].width
  const out = picture(box.w, box.h)
  const samples = new Float32Array(donors.length)
  for (let y = 0, i = 0; y < box.h; y++) {
    let from = ((y + SURROUND + REACH) * width + SURROUND + REACH) * 3
    for (let x = 0; x < 3 * box.w; x++, i++, from++) {
      for (let d = 0; d < donors.length; d++) samples[d] = donors[d].data[from]
      out.data[i] = samples.sort()[samples.length >> 1]
    }
  }
  return judge(() => out)
}

interface Grey {
  readonly width: number
  readonly height: number
  readonly data: Float32Array
}

/** Display-encoded luma, 0 to 255, as an 8-bit script would load the frame, without its rounding. */
function greyOf({ width, height, data }: Picture): Grey {
  const out = new Float32Array(width * height)
  for (let i = 0; i < out.length; i++) {
    const r = toDisplay(data[3 * i])
    const g = toDisplay(data[3 * i + 1])
    const b = toDisplay(data[3 * i + 2])
    out[i] = 255 * (0.299 * r + 0.587 * g + 0.114 * b)
  }
  return { width, height, data: out }
}

function cut(source: Grey, { x, y, w, h }: Rect): Grey {
  const data = new Float32Array(w * h)
  for (let row = 0; row < h; row++) {
    const from = (y + row) * source.width + x
    data.set(source.data.subarray(from, from + w), row * w)
  }
  return { width: w, height: h, data }
}

function cutRgb(source: Picture, { x, y, w, h }: Rect): Picture {
  const out = picture(w, h)
  for (let row = 0; row < h; row++) {
    const from = 3 * ((y + row) * source.width + x)
    out.data.set(source.data.subarray(from, from + 3 * w), 3 * row * w)
  }
  return out
}

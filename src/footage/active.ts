// Which part of a plate's frame holds picture. What lies round it says nothing of the shot: the area outside an EXR's data
// window, and bars that were burnt in (letterbox, pillarbox). A bar is a border of whole rows or columns that are one
// constant in every frame looked at and end on a straight edge; dark sky has grain, or ends where the roofs begin.
import type { Frame } from '../raster/frame.js'
import type { Rect } from '../raster/rect.js'
import { type OpenOptions, openPlate, type Plate, withActive } from './plate.js'
import { readCodeRects } from './read-many.js'

/** Frames looked at, spread over the plate. A plate whose middle frame has no border is not looked at further. */
const LOOKED_AT = 7
/** Bars cover less than this share of the height or width each. */
const MAX_SHARE = 0.45
/** A code either way is rounding; coding with losses leaves a few of 8 bits; floats no more than the least normal half. */
const LOSSY_TOLERANCE = 4 / 255
const MIN_TOLERANCE = 1 / 4095
const FLOAT_TOLERANCE = 2 ** -14
/** Lines at a bar's edge that may hold coding noise: two blocks of eight, as chroma is halved. Without losses: a filter's lobe. */
const NOISY_LINES = 16
const LOBE_LINES = 2
/** Such a line differs from the bar by less than this share of what the picture behind it does. */
const NOISY_SHARE = 0.1
/** An edge that was scaled is spread over so many lines at most, each less than this share of the next. */
const SOFT_LINES = 3
const SOFT_SHARE = 0.75
/** An edge is straight where the picture begins right at it in this share of the columns, on some frame or other. */
const STRAIGHT_SHARE = 0.5

/** One side of one frame, from the border inwards. */
interface Profile {
  /** Lines, at least: those looked at when none of them differs. */
  readonly constantLines: number
  /** Of them, lines at the border without a sample. */
  readonly emptyLines: number
  /** Per line, mean difference from the border's constant. */
  readonly mean: Float32Array
  /** Per position along the side, the first line that differs; Infinity where none does. */
  readonly start: Float32Array
}

const SIDES = ['top', 'bottom', 'left', 'right'] as const
type Side = (typeof SIDES)[number]
type Profiles = Readonly<Record<Side, Profile>>

/** Opens a plate and finds what of its frame holds picture. @throws as openPlate */
export async function openFootage(spec: string, options: OpenOptions = {}): Promise<Plate> {
  const plate = await openPlate(spec, options)
  return withActive(plate, await findActive(plate))
}

/** For people: what of a plate's frame holds picture; nothing where all of it does. */
export function activeNote({ name, active, width, height }: Plate): string[] {
  if (active.w === width && active.h === height) return []
  const { x, y, w, h } = active
  return [
    `the picture of ${name} fills ${w} x ${h} from ${x}, ${y}: round it are bars or no data, which lend nothing`,
  ]
}

/**
 * The rectangle that holds picture, from a few frames; the whole frame where there is no border, or nothing but border.
 *
 * @throws as readCodeRects of a rectangle; frames that can't be read are left out
 */
async function findActive(plate: Plate): Promise<Rect> {
  const full = { x: 0, y: 0, w: plate.width, h: plate.height }
  const { tolerance, noisyLines } = waveringOf(plate)
  const look = async (frames: readonly number[]): Promise<Profiles[]> => {
    const found: Profiles[] = []
    for await (const { picture } of readCodeRects(plate, frames, full, Number.NaN))
      if (picture) found.push(profilesOf(picture, tolerance))
    return found
  }
  const { frames } = plate
  const middle = frames[frames.length >> 1]!
  if (await showsNoBorder(plate, middle, tolerance)) return full
  const first = await look([middle])
  if (first[0] && SIDES.every((side) => first[0]![side].constantLines === 0)) return full
  const spread = Array.from({ length: LOOKED_AT }, (_, i) => {
    return frames[Math.round((i * (frames.length - 1)) / (LOOKED_AT - 1))]!
  })
  const rest = [...new Set(spread)].filter((f) => f !== middle)
  return activeArea([...first, ...(await look(rest))], full, noisyLines)
}

/** Rows at the top and the bottom of a frame that tell in most cases that there is no border. */
const BAND_ROWS = 32

/**
 * True where the first line of every side is no constant, told by a few rows, so that most plates are opened without a whole
 * frame decoded. False says nothing.
 */
async function showsNoBorder(plate: Plate, frame: number, tolerance: number): Promise<boolean> {
  const { width: w, height } = plate
  const h = Math.min(BAND_ROWS, height)
  // A movie's frame is decoded whole in any case.
  if (plate.streamed) return false
  for (const [y, line] of [
    [0, 0],
    [height - h, h - 1],
  ] as const) {
    for await (const { picture } of readCodeRects(plate, [frame], { x: 0, y, w, h }, Number.NaN)) {
      if (picture === undefined) return false
      const wavers = (from: number, along: number, length: number) =>
        isNoConstant(picture.data, from, along, length, tolerance)
      if (!wavers(line * w, 1, w) || !wavers(0, w, h) || !wavers(w - 1, w, h)) return false
    }
  }
  return true
}

/** True where samples of a line lie further apart than any constant within the tolerance of all of them allows. */
function isNoConstant(
  data: Readonly<Float32Array>,
  from: number,
  along: number,
  length: number,
  tolerance: number,
): boolean {
  const least = [Number.POSITIVE_INFINITY, Number.POSITIVE_INFINITY, Number.POSITIVE_INFINITY]
  const most = [Number.NEGATIVE_INFINITY, Number.NEGATIVE_INFINITY, Number.NEGATIVE_INFINITY]
  for (let i = 0, p = 3 * from; i < length; i++, p += 3 * along) {
    const all = data[p]! + data[p + 1]! + data[p + 2]!
    if (all - all !== 0) continue
    for (let c = 0; c < 3; c++) {
      const v = data[p + c]!
      if (v < least[c]!) least[c] = v
      if (v > most[c]!) most[c] = v
      if (most[c]! - least[c]! > 2 * tolerance) return true
    }
  }
  return false
}

/** By how much a constant may waver as the plate is stored, and over how many lines its edge may. */
function waveringOf(plate: Plate): { tolerance: number; noisyLines: number } {
  const { levels, streamed } = plate
  const lossy = streamed || plate.format === 'jpg' || plate.format === 'jpeg'
  if (lossy) return { tolerance: LOSSY_TOLERANCE, noisyLines: NOISY_LINES }
  const tolerance = levels === undefined ? FLOAT_TOLERANCE : Math.max(1 / levels, MIN_TOLERANCE)
  return { tolerance, noisyLines: LOBE_LINES }
}

/** @param profiles of frames spread over a plate */
export function activeArea(
  profiles: readonly Profiles[],
  { w, h }: Pick<Rect, 'w' | 'h'>,
  noisyLines: number,
): Rect {
  const depth = (side: Side, length: number) => {
    const seen = profiles.map((p) => p[side])
    return borderDepth(seen, length, noisyLines)
  }
  const [top, bottom, left, right] = [
    depth('top', h),
    depth('bottom', h),
    depth('left', w),
    depth('right', w),
  ]
  return { x: left, y: top, w: w - left - right, h: h - top - bottom }
}

function borderDepth(seen: readonly Profile[], length: number, noisyLines: number): number {
  if (seen.length === 0) return 0
  const most = MAX_SHARE * length
  const constant = Math.min(...seen.map((p) => p.constantLines))
  const empty = Math.min(...seen.map((p) => p.emptyLines))
  // All of the frame is alike, or half of it: that is a wall or the night.
  if (constant === 0 || constant >= most) return 0
  if (constant === empty) return empty
  // A frame of a fade shows no edge and has no say in where it lies.
  const telling = seen.filter((p) => p.constantLines < most)
  let depth = constant
  const behind = telling.map((p) => middle(p.mean, constant + noisyLines, constant + 2 * noisyLines))
  const noisy = (k: number) => telling.every((p, i) => p.mean[k]! < NOISY_SHARE * behind[i]!)
  while (depth < constant + noisyLines && noisy(depth)) depth++
  const soft = (k: number) => telling.every((p) => p.mean[k]! < SOFT_SHARE * p.mean[k + 1]!)
  for (let n = 0; n < SOFT_LINES && soft(depth); n++) depth++
  if (depth >= most) return empty
  let straight = 0
  const { start } = telling[0]!
  for (let i = 0; i < start.length; i++) if (telling.some((p) => p.start[i]! <= depth + 1)) straight++
  return straight >= STRAIGHT_SHARE * start.length ? depth : empty
}

function middle(values: Readonly<Float32Array>, from: number, to: number): number {
  const some = values.slice(from, Math.max(from + 1, to)).sort()
  return some[some.length >> 1] ?? 0
}

/** @param picture code values [height, width, 3]; NaN where the file has no sample */
export function profilesOf(picture: Frame, tolerance: number): Profiles {
  const [h, w] = picture.shape
  return {
    top: profile(picture.data, 0, w, h, 1, w, tolerance),
    bottom: profile(picture.data, (h - 1) * w, -w, h, 1, w, tolerance),
    left: profile(picture.data, 0, 1, w, w, h, tolerance),
    right: profile(picture.data, w - 1, -1, w, w, h, tolerance),
  }
}

/**
 * @param at       the side's first pixel
 * @param inwards  pixels from a line to the next, of `depth` lines across the frame
 * @param along    pixels from a position to the next, of `length` in a line
 */
function profile(
  data: Readonly<Float32Array>,
  at: number,
  inwards: number,
  depth: number,
  along: number,
  length: number,
  tolerance: number,
): Profile {
  const lines = Math.min(depth, Math.ceil(MAX_SHARE * depth) + 2 * NOISY_LINES)
  const mean = new Float32Array(lines)
  const start = new Float32Array(length).fill(Number.POSITIVE_INFINITY)
  let constantLines = 0
  let emptyLines = 0
  let constant: readonly number[] | undefined
  let inBorder = true
  for (let k = 0; k < lines; k++) {
    const from = at + k * inwards
    constant ??= meanOf(data, from, along, length)
    if (constant === undefined) {
      emptyLines = k + 1
      constantLines = k + 1
      continue
    }
    let sum = 0
    let n = 0
    let largest = 0
    for (let i = 0, p = 3 * from; i < length; i++, p += 3 * along) {
      let off = 0
      for (let c = 0; c < 3; c++) off = Math.max(off, Math.abs(data[p + c]! - constant[c]!))
      if (off - off !== 0) continue
      sum += off
      n++
      if (off > largest) largest = off
      if (off > 2 * tolerance && start[i] === Number.POSITIVE_INFINITY) start[i] = k
    }
    mean[k] = n > 0 ? sum / n : 0
    if (largest > tolerance) inBorder = false
    if (inBorder) constantLines = k + 1
    // A frame whose border shows picture needs no more looking at.
    else if (constantLines === emptyLines) break
  }
  return { constantLines, emptyLines, mean, start }
}

/** Mean colour of a line's samples; undefined where it has none. */
function meanOf(
  data: Readonly<Float32Array>,
  from: number,
  along: number,
  length: number,
): readonly number[] | undefined {
  const sum = [0, 0, 0]
  let n = 0
  for (let i = 0, p = 3 * from; i < length; i++, p += 3 * along) {
    const all = data[p]! + data[p + 1]! + data[p + 2]!
    if (all - all !== 0) continue
    for (let c = 0; c < 3; c++) sum[c]! += data[p + c]!
    n++
  }
  return n > 0 ? sum.map((s) => s / n) : undefined
}

// Works out the truth of a plate from its options alone: nothing is painted for it.
import { LUMINANCE_WEIGHTS } from '../colour/luminance.js'
import type { Rect } from '../raster/rect.js'
import type { Take } from './camera.js'
import { MARKET_HIDE, MARKET_PASSERS, SHOPPER_WALK } from './market.js'
import { type Outline, PORTER_OUTLINE, SHOPPER_OUTLINE, takesBox } from './masks.js'
import { MOMENT_BOX, MOMENT_STOPS, type MomentName, momentShare } from './moments.js'
import { NOISE } from './sensor.js'
import { allTakes } from './shoot.js'
import { STAGE_HEIGHT, STAGE_WIDTH } from './stage.js'
import {
  HIDE,
  PASSERS,
  PORTER_WALK,
  QUIET_SHUTTER,
  QUIET_WALL,
  STORY_FRAMES,
  type Stretch,
  timeOf,
  type Walk,
  walkX,
} from './story.js'
import type {
  FrameRange,
  HideTruth,
  MarketTruth,
  MomentTruth,
  Scene,
  SceneOptions,
  SceneTruth,
  StoryName,
} from './truth.js'

/** A moment lasts while its box is changed by more than this share of the deepest change that the box ever sees. */
const MOMENT_FLOOR = 0.03
/** Grid on which a moment's depth over its box is measured, stage units: far finer than its soft edges. */
const DEPTH_GRID = 3
/** How far a passer-by and their shade reach, metres behind and before the hip. */
const REACH_METRES = { left: 0.55, right: 1.5 }

const MASK = {
  pattern: 'mask/porter.####.png',
  still: 'mask/porter-still.png',
  shadow: 'mask/wall.svg',
  reflection: 'mask/shutter.svg',
  shopper: 'mask/shopper.png',
} as const
const PLATE_PATTERN = 'plate/quay.####.png'
const MARKET_PATTERN = 'plate/market.####.png'

/** A file's name with the frame number in the place of `####`. */
export function frameName(pattern: string, frame: number): string {
  return pattern.replace('####', String(frame).padStart(4, '0'))
}

export function accountFor(options: Required<SceneOptions>): SceneTruth {
  const scene: Scene = { ...options, story: 'quay' }
  return {
    ...plateTruth('quay', options, PLATE_PATTERN),
    hide: { mask: MASK.pattern, ...hideTruth(HIDE, PORTER_OUTLINE, MASK.still, scene) },
    shadow: momentTruth('shadow', framesWithin(QUIET_WALL, scene), scene),
    reflection: momentTruth('reflection', framesWithin(QUIET_SHUTTER, scene), scene),
  }
}

export function marketAccountFor(options: Required<SceneOptions>): MarketTruth {
  return {
    ...plateTruth('market', options, MARKET_PATTERN),
    hide: hideTruth(MARKET_HIDE, SHOPPER_OUTLINE, MASK.shopper, { ...options, story: 'market' }),
  }
}

function plateTruth<S extends StoryName>(story: S, options: Required<SceneOptions>, pattern: string) {
  const { first, frames, width, height } = options
  return {
    schema: 'offcut.scene/1' as const,
    story,
    options,
    plate: {
      pattern,
      first,
      last: first + frames - 1,
      width,
      height,
      encoding: 'srgb' as const,
      bits: 16 as const,
    },
    noise: NOISE,
    frames: allTakes({ ...options, story }).map((take, index) => ({ frame: first + index, ...take })),
  }
}

function hideTruth(hidden: Stretch, outline: Outline, stillMask: string, scene: Scene): HideTruth {
  const within = framesWithin(hidden, scene)
  const box = takesBox(outline, scene.width, scene.height, momentsOf(within, scene))
  return { ...within, stillMask, box, empty: emptyFrames(box, scene) }
}

/** Time and take of every frame of a range. */
export function momentsOf(frames: FrameRange, scene: Scene): { number: number; time: number; take: Take }[] {
  const takes = allTakes(scene)
  return range(frames).map((number) => {
    const index = number - scene.first
    return { number, time: timeOf(index, scene), take: takes[index] }
  })
}

/** The plate's frames in a stretch of the story; the nearest one where the plate is too short to have any. */
function framesWithin({ from, to }: Stretch, scene: Scene): FrameRange {
  const { first, frames, story } = scene
  const inside = Array.from({ length: frames }, (_, index) => index).filter((index) => {
    const time = timeOf(index, scene)
    return time >= from && time <= to
  })
  if (inside.length > 0) return { first: first + inside[0], last: first + inside[inside.length - 1] }
  const nearest = Math.min(frames - 1, Math.round(((from + to) / 2 / STORY_FRAMES[story]) * frames))
  return { first: first + nearest, last: first + nearest }
}

export function range({ first, last }: FrameRange): number[] {
  return Array.from({ length: last - first + 1 }, (_, k) => first + k)
}

function momentTruth(name: MomentName, quiet: FrameRange, scene: Scene): MomentTruth {
  const { first, frames, width, height } = scene
  const box = toPixels(MOMENT_BOX[name], width, height)
  const takes = allTakes(scene)
  const depths = Array.from({ length: frames }, (_, index) => ({
    frame: first + index,
    ...depthOver(name, box, timeOf(index, scene), takes[index], scene),
  }))
  const peak = depths.reduce((best, at) => (at.mean > best.mean ? at : best))
  const during = depths.filter((at) => at.deepest >= MOMENT_FLOOR * peak.deepest)
  const start = during[0].frame
  const end = during[during.length - 1].frame
  const target = targetRange(quiet, peak.frame - start, end - peak.frame)
  return {
    sign: name === 'shadow' ? 'darker' : 'brighter',
    box,
    mask: MASK[name],
    start,
    peak: peak.frame,
    end,
    depthStops: peak.deepest,
    channelStops: MOMENT_STOPS[name],
    depths,
    target,
    timeOffset: peak.frame - target.peak,
  }
}

/** A range that is as long as the moment with one frame more at either end, around the middle of the quiet stretch. */
function targetRange(quiet: FrameRange, before: number, after: number): MomentTruth['target'] {
  const length = Math.min(quiet.last - quiet.first, before + after + 2)
  const first = quiet.first + Math.floor((quiet.last - quiet.first - length) / 2)
  return { first, last: first + length, peak: Math.min(first + length, first + before + 1) }
}

/** The change of a grey surface over a box of the plate, as one frame with its sway shows it. */
function depthOver(
  name: MomentName,
  box: Rect,
  time: number,
  take: Take,
  { width, height }: Required<SceneOptions>,
): { deepest: number; mean: number } {
  const unitsX = STAGE_WIDTH / width
  const unitsY = STAGE_HEIGHT / height
  const stepX = Math.max(1, Math.floor(DEPTH_GRID / unitsX))
  const stepY = Math.max(1, Math.floor(DEPTH_GRID / unitsY))
  let deepest = 0
  let sum = 0
  let count = 0
  for (let y = box.y; y < box.y + box.h; y += stepY) {
    for (let x = box.x; x < box.x + box.w; x += stepX) {
      const share = momentShare(name, (x + 0.5 - take.dx) * unitsX, (y + 0.5 - take.dy) * unitsY, time)
      const stops = neutralStops(name, share)
      deepest = Math.max(deepest, stops)
      sum += stops
      count++
    }
  }
  return { deepest, mean: sum / count }
}

/** Luminance change of a grey surface under a share of the moment, stops, without sign. */
export function neutralStops(name: MomentName, share: number): number {
  const stops = MOMENT_STOPS[name]
  let light = 0
  for (let c = 0; c < 3; c++) light += LUMINANCE_WEIGHTS[c] * 2 ** (stops[c] * share)
  return Math.abs(Math.log2(light))
}

/** Frames on which nobody reaches into a rectangle. */
function emptyFrames(box: Rect, scene: Scene): number[] {
  const { first, frames, width, story } = scene
  const left = (box.x * STAGE_WIDTH) / width
  const right = ((box.x + box.w) * STAGE_WIDTH) / width
  const walks = story === 'quay' ? QUAY_WALKS : MARKET_WALKS
  const out: number[] = []
  for (let index = 0; index < frames; index++) {
    const time = timeOf(index, scene)
    const taken = walks.some(({ walk, before, after }) => {
      if (time < walk.seen.from || time > walk.seen.to) return false
      const x = walkX(walk, time)
      return x + after > left && x - before < right
    })
    if (!taken) out.push(first + index)
  }
  return out
}

/** Someone's walk with how far they and their shade reach behind and before the hip, stage units. */
interface Reach {
  readonly walk: Walk
  readonly before: number
  readonly after: number
}

const reachOf = (walk: Walk): Reach => ({
  walk,
  before: REACH_METRES.left * walk.scale,
  after: REACH_METRES.right * walk.scale,
})
const QUAY_WALKS: readonly Reach[] = [{ walk: PORTER_WALK, before: 46, after: 176 }, ...PASSERS.map(reachOf)]
const MARKET_WALKS: readonly Reach[] = [SHOPPER_WALK, ...MARKET_PASSERS.map(({ walk }) => walk)].map(reachOf)

/** A stage rectangle in whole plate pixels. */
function toPixels(
  stage: { x: number; y: number; w: number; h: number },
  width: number,
  height: number,
): Rect {
  const x = Math.round((stage.x * width) / STAGE_WIDTH)
  const y = Math.round((stage.y * height) / STAGE_HEIGHT)
  return {
    x,
    y,
    w: Math.max(1, Math.round(((stage.x + stage.w) * width) / STAGE_WIDTH) - x),
    h: Math.max(1, Math.round(((stage.y + stage.h) * height) / STAGE_HEIGHT) - y),
  }
}

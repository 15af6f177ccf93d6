// offcut survey: what this footage is.
import { printFrames, printRuns } from '../../footage/frames.js'
import type { Plate } from '../../footage/plate.js'
import { LOCKED_PX } from '../../match/thresholds.js'
import type { CameraPath } from '../../search/camera-path.js'
import { type Survey, surveyPlate } from '../../search/survey.js'
import { type Io, printJson } from '../io.js'
import { table } from '../table.js'

export interface SurveyFlags {
  encoding: string
  layer?: string
  json?: boolean
}

/** @throws as surveyPlate */
export async function survey(plate: string, flags: SurveyFlags, io: Io): Promise<void> {
  const found = await surveyPlate(plate, { ...flags, onProgress: io.progress.report, signal: io.signal })
  io.progress.clear()
  if (flags.json === true) printJson(io, asJson(found))
  else io.print(...inWords(found, io.columns))
}

function inWords(survey: Survey, columns: number): string[] {
  const { plate, frames, repeated } = survey
  const stops = frames.flatMap((f) => f.stops ?? [])
  const [darkest, brightest] = [Math.min(...stops), Math.max(...stops)]
  const held = frames.filter((f) => f.dx !== null)
  const xs = held.map((f) => f.dx!)
  const ys = held.map((f) => f.dy!)
  const grain = frames.flatMap((f) => (f.grainStops === null ? [] : [f.grainStops])).sort((a, b) => a - b)
  const aspect = plate.pixelAspect === 1 ? 'square pixels' : `pixel aspect ${plate.pixelAspect}`
  const rows = [
    ['plate', plate.name],
    [
      'frames',
      plate.frames.length === 1
        ? `1, ${plate.first}`
        : `${plate.frames.length}, ${plate.first} to ${plate.last}`,
    ],
    ['gaps', plate.gaps.length === 0 ? 'none' : printRuns(plate.gaps)],
    ['repeated', repeated.length === 0 ? 'none' : printRuns(repeated)],
    ...unread(survey).map((said) => ['unreadable', said]),
    ['picture', `${plate.width} x ${plate.height}, ${plate.format} ${plate.bitDepth}, ${aspect}`],
    ...active(plate).map((said) => ['active', said]),
    ['encoding', `${plate.encoding} (${plate.encodingWhy})`],
    ['grain', grain.length === 0 ? 'not measurable' : `${grain[grain.length >> 1].toFixed(3)} stops`],
    ...(frames.length > 1
      ? [
          [
            'light',
            `${(brightest - darkest).toFixed(2)} stops between the darkest and the brightest frame; frame to frame ${flicker(stops).toFixed(3)}`,
          ],
          ['light over time', curve(stops, darkest, brightest, columns - 'light over time  '.length)],
        ]
      : [['light', 'one frame tells of no change']]),
    ...(frames.length <= 1
      ? [['camera', 'one frame tells of no movement']]
      : survey.path === null
        ? [['camera', camera(held.length, frames.length, xs, ys)]]
        : moving(survey.path).map((said) => ['camera', said])),
    [
      'looked at',
      survey.path === null
        ? `the middle ${survey.rect.w} x ${survey.rect.h} pixels`
        : `the whole frame for the camera and the light, the middle ${survey.rect.w} x ${survey.rect.h} pixels for grain`,
    ],
  ]
  return table(rows, columns)
}

/** What of the frame holds picture, where that is not all of it. */
function active({ active: { x, y, w, h }, width, height }: Plate): string[] {
  if (w === width && h === height) return []
  const sides = { left: x, top: y, right: width - x - w, bottom: height - y - h }
  const said = Object.entries(sides).flatMap(([side, px]) => (px > 0 ? [`${px} px ${side}`] : []))
  return [`${w} x ${h} from ${x}, ${y}; bars or no data: ${said.join(', ')}`]
}

/** RMS change of light from one frame to the next, stops. */
function flicker(stops: readonly number[]): number {
  if (stops.length < 2) return 0
  let sum = 0
  for (let i = 1; i < stops.length; i++) sum += (stops[i] - stops[i - 1]) ** 2
  return Math.sqrt(sum / (stops.length - 1))
}

const STEPS = '▁▂▃▄▅▆▇█'
/** A plate whose light stays within this is drawn flat, not as its grain's own wobble blown up. */
const FLAT_STOPS = 0.02
const CURVE_WIDTH = 48

function curve(stops: readonly number[], low: number, high: number, columns: number): string {
  const width = Math.max(1, Math.min(CURVE_WIDTH, stops.length, columns))
  const span = Math.max(high - low, FLAT_STOPS)
  return Array.from({ length: width }, (_, i) => {
    const value = stops[Math.floor(((i + 0.5) * stops.length) / width)]
    return STEPS[Math.min(STEPS.length - 1, Math.floor((STEPS.length * (value - low)) / span))]
  }).join('')
}

function camera(held: number, all: number, xs: readonly number[], ys: readonly number[]): string {
  if (held < all / 2) return 'moves further than can be followed, or there is no texture to follow'
  const spanX = Math.max(...xs) - Math.min(...xs)
  const spanY = Math.max(...ys) - Math.min(...ys)
  const median = xs.map((x, i) => Math.hypot(x, ys[i])).sort((a, b) => a - b)[held >> 1]
  if (median < LOCKED_PX) return 'locked off'
  return `moves over ${spanX.toFixed(2)} x ${spanY.toFixed(2)} px`
}

/** Roll below this, degrees, and zoom below this share are none. */
const NO_ROLL = 0.05
const NO_ZOOM = 0.002

/** A camera that moves, in a sentence each for its path, what was lost, and cuts. */
function moving({ model, reference, views, lost, cuts }: CameraPath): string[] {
  const spanOf = (of: (view: CameraPath['views'][number]) => number) => {
    const values = views.map(of)
    return Math.max(...values) - Math.min(...values)
  }
  const roll = spanOf((v) => v.roll)
  const zoom = spanOf((v) => v.zoom)
  const what = { shift: 'moves', similarity: 'moves', homography: 'turns' }[model]
  const path = [
    `${what} over ${spanOf((v) => v.x).toFixed(0)} x ${spanOf((v) => v.y).toFixed(0)} px`,
    ...(roll > NO_ROLL ? [`rolls over ${roll.toFixed(1)} degrees`] : []),
    ...(zoom > NO_ZOOM ? [`zooms over ${(100 * zoom).toFixed(1)} %`] : []),
  ]
  return [
    `${path.join(', ')} (against frame ${reference}, by a ${model} per frame)`,
    ...(cuts.length === 0 ? [] : [`cut at ${printFrames(cuts)}`]),
    ...(lost.length === 0 ? [] : [`not followed on ${printFrames(lost)}`]),
  ]
}

/** Which frames, and why the first. */
function unread({ plate, frames, unreadable: [first, ...others] }: Survey): string[] {
  if (first === undefined) return []
  if (others.length === 0) return [first]
  const read = new Set(frames.map((f) => f.frame))
  return [printFrames(plate.frames.filter((f) => !read.has(f))), `the first: ${first}`]
}

function asJson({ plate, frames, repeated, unreadable, rect, path }: Survey) {
  const { name, first, last, gaps, width, height, active, pixelAspect } = plate
  const { format, bitDepth, encoding, encodingWhy } = plate
  return {
    name,
    first,
    last,
    gaps,
    width,
    height,
    active,
    pixelAspect,
    format,
    bitDepth,
    encoding,
    encodingWhy,
    repeated,
    unreadable,
    rect,
    frames,
    path,
  }
}

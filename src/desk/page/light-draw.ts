// A light curve as it is painted: stops from its middle, with the frames that are marked on it.
import type { PlateAbout } from '../messages.js'
import { frameWidth, isBroken, type StripScale, xOf } from './strip-scale.js'

/** CSS pixels. */
export const CURVE_HEIGHT = 96
const TOP = 20
const BOTTOM = 8
/** A curve that stands still is drawn as such: so many stops fill the height at least. */
const MIN_SPAN = 0.1

export interface CurvePicture {
  readonly scale: StripScale
  readonly gaps: PlateAbout['gaps']
  /** Stops by frame; null where nothing is known. */
  readonly lights: ReadonlyMap<number, number | null>
  readonly like: number | null
  readonly peak: number | null
  readonly frame: number
}

/** Light as stops from its median, which a shadow or gleam that passes does not move. */
export function inStops(lights: ReadonlyMap<number, number | null>): ReadonlyMap<number, number | null> {
  const known = [...lights.values()].filter((light) => light !== null).sort((a, b) => a - b)
  if (known.length === 0) return lights
  const middle = (known[(known.length - 1) >> 1]! + known[known.length >> 1]!) / 2
  return new Map([...lights].map(([frame, light]) => [frame, light === null ? null : light - middle]))
}

/** "−0.42", "+0.10", "0.00". */
export function signedStops(stops: number): string {
  const figures = Math.abs(stops).toFixed(2)
  return `${Number(figures) === 0 ? '' : stops < 0 ? '−' : '+'}${figures}`
}

/** "−0.42 stops", signed. */
export function stopsText(stops: number): string {
  return `${signedStops(stops)} stops`
}

export function drawCurve(context: CanvasRenderingContext2D, picture: CurvePicture): void {
  const { scale, gaps, frame, like, peak } = picture
  context.fillStyle = '#242424'
  context.fillRect(0, 0, scale.width, CURVE_HEIGHT)
  const lights = [...picture.lights]
    .flatMap(([at, light]) => (light === null ? [] : [[at, light] as const]))
    .sort(([a], [b]) => a - b)
  if (lights.length === 0) return
  const [low, high] = [Math.min(...lights.map(([, l]) => l)), Math.max(...lights.map(([, l]) => l))]
  const span = Math.max(MIN_SPAN, high - low)
  const bottom = (low + high - span) / 2
  const y = (light: number) =>
    CURVE_HEIGHT - BOTTOM - ((light - bottom) / span) * (CURVE_HEIGHT - TOP - BOTTOM)
  context.strokeStyle = '#606060'
  context.lineWidth = 1
  line(context, 0, y(0), scale.width, y(0))
  context.strokeStyle = '#d8d8d8'
  context.lineWidth = 1.5
  context.beginPath()
  for (const [i, [at, light]] of lights.entries()) {
    const x = xOf(scale, at) + frameWidth(scale) / 2
    if (i > 0 && !isBroken(gaps, lights[i - 1]![0], at)) context.lineTo(x, y(light))
    else context.moveTo(x, y(light))
  }
  context.stroke()
  mark(context, scale, frame, '')
  if (like !== null) mark(context, scale, like, 'like')
  if (peak !== null) mark(context, scale, peak, 'peak')
}

function mark(context: CanvasRenderingContext2D, scale: StripScale, frame: number, name: string): void {
  const x = xOf(scale, frame) + frameWidth(scale) / 2
  context.strokeStyle = name === '' ? '#8c8c8c' : '#fff'
  context.lineWidth = 1
  context.setLineDash(name === 'peak' ? [4, 3] : [])
  line(context, x, name === '' ? 0 : 14, x, CURVE_HEIGHT)
  context.setLineDash([])
  context.fillStyle = '#fff'
  context.font = `12px ${getComputedStyle(document.body).fontFamily}`
  const wide = context.measureText(name).width
  context.fillText(name, Math.min(scale.width - wide, Math.max(0, x - wide / 2)), 11)
}

function line(context: CanvasRenderingContext2D, x0: number, y0: number, x1: number, y1: number): void {
  context.beginPath()
  context.moveTo(x0, y0)
  context.lineTo(x1, y1)
  context.stroke()
}

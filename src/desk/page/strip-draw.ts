// The strip as it is painted: light over time, movement, what is repeated or can't be read, gaps, the range, keys.
import type { StripFrame } from '../messages.js'
import { frameWidth, isBroken, numbersUnder, type StripScale, xOf } from './strip-scale.js'
import type { StripAxes } from './strip-values.js'

/** Lanes from the top, CSS pixels; strip.css has their names beside them. */
export const LANES = { range: 16, light: 44, movement: 30, marks: 14, numbers: 18 } as const
export const STRIP_HEIGHT = Object.values(LANES).reduce((sum, h) => sum + h, 0)

export interface StripPicture {
  readonly scale: StripScale
  readonly gaps: readonly { readonly first: number; readonly last: number }[]
  readonly known: ReadonlyMap<number, StripFrame>
  readonly axes: StripAxes
  readonly targets: readonly number[]
  readonly keyed: readonly number[]
  readonly donors: readonly number[]
  readonly frame: number
}

const INK = {
  well: '#242424',
  gap: '#3d3d3d',
  range: '#585858',
  edge: '#e8e8e8',
  light: '#d8d8d8',
  moved: '#8c8c8c',
  text: '#c6c6c6',
  line: '#606060',
  usual: '#a0a0a0',
}
/** What lanes keep free above and below, so that ends of their scales stand apart, CSS pixels. */
const INSET = 3

export function drawStrip(context: CanvasRenderingContext2D, picture: StripPicture): void {
  const { scale } = picture
  const wide = frameWidth(scale)
  context.fillStyle = INK.well
  context.fillRect(0, 0, scale.width, STRIP_HEIGHT)
  const dataTop = LANES.range
  const dataHigh = LANES.light + LANES.movement + LANES.marks
  for (const { first, last } of picture.gaps) {
    hatched(context, xOf(scale, first), dataTop, (last - first + 1) * wide, dataHigh)
  }
  context.fillStyle = INK.range
  for (const target of picture.targets)
    context.fillRect(xOf(scale, target), 0, wide + 0.5, dataTop + dataHigh)
  drawLight(context, picture, dataTop + INSET, LANES.light - 2 * INSET)
  drawMovement(context, picture, dataTop + LANES.light + INSET, LANES.movement - 2 * INSET)
  drawMarks(context, picture, dataTop + LANES.light + LANES.movement)
  drawNumbers(context, scale)
  for (const each of picture.keyed) diamond(context, xOf(scale, each) + wide / 2, dataTop)
  context.fillStyle = INK.edge
  for (const each of picture.donors)
    context.fillRect(xOf(scale, each), dataTop + dataHigh - 3, Math.max(1, wide), 3)
  drawCurrent(context, picture, dataTop + dataHigh)
}

/** Light may jump where a gap lies, so the line breaks there; frames that are not measured yet are passed over. */
function drawLight(
  context: CanvasRenderingContext2D,
  { scale, axes: { lights, light: ends }, gaps }: StripPicture,
  top: number,
  high: number,
): void {
  if (ends === null) return
  const yOf = (light: number) => top + ((ends.high - light) / (ends.high - ends.low)) * high
  context.strokeStyle = INK.usual
  context.lineWidth = 1
  context.setLineDash([2, 4])
  context.beginPath()
  context.moveTo(0, yOf(0))
  context.lineTo(scale.width, yOf(0))
  context.stroke()
  context.setLineDash([])
  const half = frameWidth(scale) / 2
  context.beginPath()
  let before: number | null = null
  for (const [frame, light] of [...lights].sort(([a], [b]) => a - b)) {
    if (light === null) {
      before = null
      continue
    }
    const x = xOf(scale, frame) + half
    const y = yOf(light)
    if (before !== null && !isBroken(gaps, before, frame)) context.lineTo(x, y)
    else {
      context.moveTo(x, y)
      context.lineTo(x + 0.5, y)
    }
    before = frame
  }
  context.strokeStyle = INK.light
  context.lineWidth = 1.5
  context.stroke()
}

function drawMovement(
  context: CanvasRenderingContext2D,
  { scale, known, axes }: StripPicture,
  top: number,
  high: number,
): void {
  context.fillStyle = INK.line
  context.fillRect(0, top + high, scale.width, 1)
  context.fillStyle = INK.moved
  const wide = Math.max(1, frameWidth(scale))
  for (const { frame, moved } of known.values()) {
    if (!moved) continue
    const tall = (moved / axes.mostPx) * high
    context.fillRect(xOf(scale, frame), top + high - tall, wide, tall)
  }
}

/** A repeated frame is a hollow square, one that can't be read a cross. */
function drawMarks(context: CanvasRenderingContext2D, { scale, known }: StripPicture, top: number): void {
  const middle = frameWidth(scale) / 2
  context.strokeStyle = INK.edge
  context.lineWidth = 1.2
  for (const { frame, repeats, message } of known.values()) {
    const x = xOf(scale, frame) + middle
    if (message !== undefined) {
      context.beginPath()
      context.moveTo(x - 3, top + 1)
      context.lineTo(x + 3, top + 7)
      context.moveTo(x + 3, top + 1)
      context.lineTo(x - 3, top + 7)
      context.stroke()
    } else if (repeats !== null) context.strokeRect(x - 2.5, top + 1.5, 5, 5)
  }
}

function drawNumbers(context: CanvasRenderingContext2D, scale: StripScale): void {
  const top = STRIP_HEIGHT - LANES.numbers
  context.fillStyle = INK.text
  context.font = `12px ${getComputedStyle(document.body).fontFamily}`
  context.textBaseline = 'middle'
  context.textAlign = 'center'
  const widest = context.measureText(String(scale.last)).width
  for (const frame of numbersUnder(scale, Math.max(64, widest + 24))) {
    const x = xOf(scale, frame) + frameWidth(scale) / 2
    context.fillRect(x - 0.5, top, 1, 4)
    const half = context.measureText(String(frame)).width / 2
    context.fillText(String(frame), Math.max(half, Math.min(scale.width - half, x)), top + 11)
  }
}

/** Of a plate of few frames the one in view is a line in its middle, or it would hide what the strip says of it. */
const MAX_CURRENT = 6

function drawCurrent(
  context: CanvasRenderingContext2D,
  { scale, frame }: StripPicture,
  bottom: number,
): void {
  const wide = Math.min(MAX_CURRENT, Math.max(2, frameWidth(scale)))
  const x = xOf(scale, frame) + frameWidth(scale) / 2 - wide / 2
  context.fillStyle = '#000'
  context.fillRect(x - 1.5, 0, wide + 3, bottom)
  context.fillStyle = '#fff'
  context.fillRect(x, 0, wide, bottom)
}

function diamond(context: CanvasRenderingContext2D, x: number, y: number): void {
  context.beginPath()
  context.moveTo(x, y - 5)
  context.lineTo(x + 5, y)
  context.lineTo(x, y + 5)
  context.lineTo(x - 5, y)
  context.closePath()
  context.fillStyle = '#fff'
  context.strokeStyle = '#000'
  context.lineWidth = 1
  context.fill()
  context.stroke()
}

function hatched(context: CanvasRenderingContext2D, x: number, y: number, w: number, h: number): void {
  context.save()
  context.beginPath()
  context.rect(x, y, w, h)
  context.clip()
  context.fillStyle = INK.gap
  context.fillRect(x, y, w, h)
  context.strokeStyle = INK.line
  context.lineWidth = 1
  context.beginPath()
  for (let at = x - h; at < x + w; at += 7) {
    context.moveTo(at, y + h)
    context.lineTo(at + h, y)
  }
  context.stroke()
  context.restore()
}

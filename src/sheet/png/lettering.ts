// Text for sheet.png: filled from the outlines of our own letters, so that a machine without fonts loses nothing.
import { codecs } from '../../kernels/codecs.js'
import { type Filled, fillOutlines, type Outline } from '../../kernels/outline.js'
import type { Canvas } from './canvas.js'
import { EM, LETTERS } from './letters.js'

interface Letter {
  readonly advance: number
  readonly edges: Float32Array
}

/** Stands for a character that has no letter here. */
const UNKNOWN = '▯'

/** Of those that a text had. */
const known = new Map<string, Letter>()
let listed: ReadonlyMap<string, string> | undefined

function letter(character: string): Letter {
  const found = known.get(character)
  if (found !== undefined) return found
  listed ??= new Map(
    LETTERS.split('\n').flatMap((line) => {
      const parts = /^(.) (.*)$/u.exec(line)
      return parts === null ? [] : [[parts[1], parts[2]] as const]
    }),
  )
  const [, advance, outline] = /^(\d+)(?: (.*))?$/.exec(listed.get(character) ?? listed.get(UNKNOWN)!)!
  const made = { advance: Number(advance), edges: edgesOf(outline ?? '') }
  known.set(character, made)
  return made
}

/** Width of a line of text in the unit of `size`, the height of one em. */
export function textWidth(text: string, size: number): number {
  let advance = 0
  for (const character of text) advance += letter(character).advance
  return (advance * size) / EM
}

/** The text cut to a width, with an ellipsis in the middle, so that a path keeps its start and its file name. */
export function fitText(text: string, size: number, width: number): string {
  if (textWidth(text, size) <= width) return text
  const characters = [...text]
  for (let kept = characters.length - 1; kept > 0; kept--) {
    const head = Math.ceil(kept / 3)
    const cut = `${characters.slice(0, head).join('')}…${characters.slice(characters.length - (kept - head)).join('')}`
    if (textWidth(cut, size) <= width) return cut
  }
  return '…'
}

/**
 * Lines no wider than `width`, broken at spaces; at most `most`, the last one ended between words where there is more: cut in
 * its middle, a sentence would join one number's head to another's tail.
 */
export function wrapText(text: string, size: number, width: number, most: number): string[] {
  const lines: string[] = []
  let line = ''
  for (const word of text.split(/\s+/)) {
    const longer = line === '' ? word : `${line} ${word}`
    if (line !== '' && textWidth(longer, size) > width) {
      lines.push(line)
      line = word
    } else line = longer
  }
  lines.push(line)
  if (lines.length > most) {
    lines.length = most
    let last = lines[most - 1]
    while (textWidth(`${last} …`, size) > width && last.includes(' '))
      last = last.slice(0, last.lastIndexOf(' '))
    lines[most - 1] = `${last} …`
  }
  return lines.map((each) => fitText(each, size, width))
}

/** One line of text. */
export interface Line {
  readonly text: string
  /** Where the base line starts, or ends with `align: 'end'`. */
  readonly x: number
  readonly y: number
  /** The height of one em, pixels. */
  readonly size: number
  /** 0 black to 255 white. */
  readonly grey: number
  readonly align?: 'start' | 'end'
}

/** How far letters reach beyond the base line and their advances, ems: accents, tails, and what leans out. */
const ABOVE = 1.1
const BELOW = 0.4
const BESIDE = 0.3

/** Lays lines of text on a canvas; what of a line would lie beyond it is an error of who laid them out. */
export function layLines({ w, h, samples }: Canvas, lines: readonly Line[]): void {
  const filled = lines.flatMap(({ text, x, y, size, grey, align = 'start' }): Filled[] => {
    const scale = size / EM
    const outlines: Outline[] = []
    const width = textWidth(text, size)
    const start = align === 'end' ? x - width : x
    let pen = start
    for (const character of text) {
      const { advance, edges } = letter(character)
      if (edges.length > 0) outlines.push({ edges, scale, x: pen, y })
      pen += advance * scale
    }
    if (outlines.length === 0) return []
    const left = Math.floor(start - BESIDE * size)
    const top = Math.floor(y - ABOVE * size)
    const right = Math.ceil(start + width + BESIDE * size)
    const bottom = Math.ceil(y + BELOW * size)
    if (left < 0 || top < 0 || right > w || bottom > h)
      throw new RangeError(`"${text}" at ${x}, ${y} lies beyond the canvas of ${w} x ${h}`)
    return [{ outlines, left, top, width: right - left, height: bottom - top, grey }]
  })
  fillOutlines(codecs(), samples, w, filled)
}

/** Straight pieces of a curve: within a hundredth of a pixel of it at the sizes of a sheet. */
const PIECES = 6

/** The straight edges of an outline in SVG path data of M, L, H, V, Q and Z with absolute places, x0, y0, x1, y1 each. */
function edgesOf(outline: string): Float32Array {
  const edges: number[] = []
  let [startX, startY, x, y] = [0, 0, 0, 0]
  const to = (nextX: number, nextY: number) => {
    edges.push(x, y, nextX, nextY)
    x = nextX
    y = nextY
  }
  for (const [, command, places] of outline.matchAll(/([MLHVQZ])([^MLHVQZ]*)/g)) {
    const n = (places.match(/-?\d+(?:\.\d+)?/g) ?? []).map(Number)
    if (command === 'M') {
      x = startX = n[0]
      y = startY = n[1]
      for (let i = 2; i < n.length; i += 2) to(n[i], n[i + 1])
    } else if (command === 'L') for (let i = 0; i < n.length; i += 2) to(n[i], n[i + 1])
    else if (command === 'H') for (const each of n) to(each, y)
    else if (command === 'V') for (const each of n) to(x, each)
    else if (command === 'Z') to(startX, startY)
    else
      for (let i = 0; i < n.length; i += 4) {
        const [fromX, fromY] = [x, y]
        for (let k = 1; k <= PIECES; k++) {
          const t = k / PIECES
          const [a, b, c] = [(1 - t) ** 2, 2 * t * (1 - t), t ** 2]
          to(a * fromX + b * n[i] + c * n[i + 2], a * fromY + b * n[i + 1] + c * n[i + 3])
        }
      }
  }
  return Float32Array.from(edges)
}

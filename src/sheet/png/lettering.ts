// Text as SVG outlines for sheet.png: drawn from our own letters, so that a machine without fonts loses nothing.
import { EM, LETTERS } from './letters.js'

interface Letter {
  readonly advance: number
  readonly outline: string
}

/** Stands for a character that has no letter here. */
const UNKNOWN = '▯'

let letters: Map<string, Letter> | undefined

function letter(character: string): Letter {
  letters ??= new Map(
    LETTERS.split('\n')
      .filter((line) => line !== '')
      .map((line) => {
        const [, character, advance, outline] = /^(.) (\d+)(?: (.*))?$/u.exec(line)!
        return [character, { advance: Number(advance), outline: outline ?? '' }]
      }),
  )
  return letters.get(character) ?? letters.get(UNKNOWN)!
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

/**
 * One line of text as an SVG group.
 *
 * @param x,y   where the base line starts, or ends with `align: 'end'`
 * @param grey  0 black to 255 white
 */
export function lettering(
  text: string,
  {
    x,
    y,
    size,
    grey = 235,
    align = 'start',
  }: { x: number; y: number; size: number; grey?: number; align?: 'start' | 'end' },
): string {
  const scale = size / EM
  let pen = align === 'end' ? x - textWidth(text, size) : x
  const parts: string[] = []
  for (const character of text) {
    const { advance, outline } = letter(character)
    if (outline !== '') {
      parts.push(`<path transform="translate(${pen.toFixed(2)} ${y}) scale(${scale})" d="${outline}"/>`)
    }
    pen += advance * scale
  }
  return `<g fill="rgb(${grey},${grey},${grey})">${parts.join('')}</g>`
}

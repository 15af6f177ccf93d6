import sharp from 'sharp'
import { describe, expect, test } from 'vitest'
import { greyCanvas } from '../../../src/sheet/png/canvas.js'
import { fitText, type Line, layLines, textWidth, wrapText } from '../../../src/sheet/png/lettering.js'
import { EM, LETTERS } from '../../../src/sheet/png/letters.js'

/** Grey codes of a canvas of 900 x 100 with these lines on it. */
function laid(ground: number, ...lines: readonly Line[]): Uint8Array {
  const canvas = greyCanvas(900, 100, ground)
  layLines(canvas, lines)
  return canvas.samples.filter((_, i) => i % 3 === 0)
}

/** The same by libvips, from the same outlines. */
async function byVips(ground: number, { text, x, y, size, grey }: Line): Promise<Uint8Array> {
  const letters = new Map(
    LETTERS.split('\n').map((line) => [[...line][0], /^. (\d+) ?(.*)$/u.exec(line)] as const),
  )
  let pen = x
  const paths = [...text].map((character) => {
    const [, advance, outline] = letters.get(character)!
    const at = `translate(${pen} ${y}) scale(${size / EM})`
    pen += (Number(advance) * size) / EM
    return `<path transform="${at}" d="${outline}" fill="rgb(${grey},${grey},${grey})"/>`
  })
  const rect = `<rect width="900" height="100" fill="rgb(${ground},${ground},${ground})"/>`
  const svg = `<svg xmlns="http://www.w3.org/2000/svg" width="900" height="100">${rect}${paths.join('')}</svg>`
  return sharp(Buffer.from(svg)).greyscale().raw().toBuffer()
}

/** The box round what a line of text leaves on black, 40 px high letters on a base line at y = 60. */
function ink(text: string) {
  const data = laid(0, { text, x: 20, y: 60, size: 40, grey: 255 })
  const xs: number[] = []
  const ys: number[] = []
  for (let i = 0; i < data.length; i++) {
    if (data[i] > 127) {
      xs.push(i % 900)
      ys.push(Math.floor(i / 900))
    }
  }
  return {
    count: xs.length,
    left: Math.min(...xs),
    right: Math.max(...xs),
    top: Math.min(...ys),
    bottom: Math.max(...ys),
  }
}

describe('text drawn without fonts', () => {
  test.each([14, 15, 17.5, 19, 26, 34])('of %d px is as libvips fills the same outlines', async (size) => {
    const line = { text: 'Weakest: 1060–69, ½ of “ê” & @ ▯ %{}|●', x: 31.37, y: 52.5, size, grey: 245 }
    const [ours, theirs] = [laid(58, line), await byVips(58, line)]
    const off = ours.map((code, i) => Math.abs(code - theirs[i]!))
    // Its own coverage is told on a grid of 15 rows a pixel, which is a fifteenth of 187 codes at worst, and two edges a pixel.
    expect(Math.max(...off)).toBeLessThanOrEqual(25)
    const edges = off.filter((_, i) => theirs[i] !== 58 && theirs[i] !== 245)
    expect(edges.length).toBeGreaterThan(500)
    expect(Math.sqrt(edges.reduce((sum, d) => sum + d * d, 0) / edges.length)).toBeLessThan(4)
  })

  test('ends where it is asked to, and is refused beyond the canvas', () => {
    const end = laid(0, { text: '0.98', x: 300, y: 60, size: 20, grey: 255, align: 'end' })
    const start = laid(0, { text: '0.98', x: 300 - textWidth('0.98', 20), y: 60, size: 20, grey: 255 })
    expect(end).toEqual(start)
    expect(() => laid(0, { text: 'far', x: 890, y: 60, size: 20, grey: 255 })).toThrow(RangeError)
    expect(() => laid(0, { text: 'high', x: 20, y: 10, size: 20, grey: 255 })).toThrow(RangeError)
  })

  test('stands upright on its base line, as wide as it says', () => {
    const box = ink('HOLDS 09')
    expect(box.bottom).toBeGreaterThanOrEqual(58)
    expect(box.bottom).toBeLessThanOrEqual(61)
    // The capitals of DejaVu are 0.729 em high, 29 px here.
    expect(box.bottom - box.top).toBeGreaterThan(27)
    expect(box.bottom - box.top).toBeLessThan(32)
    expect(box.right).toBeLessThan(20 + textWidth('HOLDS 09', 40))
    expect(box.right).toBeGreaterThan(20 + textWidth('HOLDS 09', 40) - 6)
  })

  test('has a counter in each figure that has one: 6 and 9 are not blots', () => {
    const [six, nine, one] = [ink('6'), ink('9'), ink('1')]
    expect(Math.abs(six.count - nine.count)).toBeLessThan(12) // the one is the other upside down
    expect(nine.count).toBeLessThan(0.6 * (nine.right - nine.left + 1) * (nine.bottom - nine.top + 1))
    expect(one.count).toBeGreaterThan(50)
  })

  test('takes markup for letters', () => {
    expect(ink('</svg><image href="x"/>&amp;').count).toBeGreaterThan(1000)
  })

  test('shows a box for what it has no letter for, one per character', () => {
    expect(textWidth('港', 10)).toBe(textWidth('▯', 10))
    expect(textWidth('港🚢', 10)).toBe(2 * textWidth('▯', 10))
  })
})

describe('fitting text', () => {
  test('leaves alone what fits, and cuts the middle of what does not, so that the file name stays', () => {
    const name = 'quayside/a/long/way/down/plate.####.exr'
    expect(fitText(name, 10, 1000)).toBe(name)
    const cut = fitText(name, 10, 100)
    expect(textWidth(cut, 10)).toBeLessThanOrEqual(100)
    expect(cut).toMatch(/^quay.*….*\.exr$/)
  })

  test('wraps at spaces, never wider than asked, and ends in time', () => {
    const lines = wrapText(
      'the seam shows on the left edge: 2.1 times what grain alone would give there',
      10,
      120,
      3,
    )
    expect(lines).toHaveLength(3)
    for (const line of lines) expect(textWidth(line, 10)).toBeLessThanOrEqual(120)
    expect(wrapText('short', 10, 120, 3)).toEqual(['short'])
    // Ended between words: cut in the middle, one number would run on as another.
    const why = 'its error in the region is likely 1.24 times that of the best; the seam shows at 36 times'
    const cut = wrapText(why, 10, 150, 2)
    expect(cut).toHaveLength(2)
    const said = cut.join(' ')
    expect(said.endsWith(' …')).toBe(true)
    expect(why.startsWith(said.slice(0, -1))).toBe(true)
  })
})

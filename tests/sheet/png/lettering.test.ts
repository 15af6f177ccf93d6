import sharp from 'sharp'
import { describe, expect, test } from 'vitest'
import { fitText, lettering, textWidth, wrapText } from '../../../src/sheet/png/lettering.js'

/** The box round what a line of text leaves on black, 40 px high letters on a base line at y = 60. */
async function ink(text: string) {
  const svg = `<svg xmlns="http://www.w3.org/2000/svg" width="900" height="100"><rect width="900" height="100"/>${lettering(text, { x: 10, y: 60, size: 40, grey: 255 })}</svg>`
  const { data, info } = await sharp(Buffer.from(svg)).greyscale().raw().toBuffer({ resolveWithObject: true })
  const xs: number[] = []
  const ys: number[] = []
  for (let i = 0; i < data.length; i++) {
    if (data[i] > 127) {
      xs.push(i % info.width)
      ys.push(Math.floor(i / info.width))
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
  test('is outlines alone, so that a machine without fonts shows it all the same', () => {
    expect(lettering('holds up, 0.98', { x: 0, y: 0, size: 10 })).not.toMatch(/<text|font/)
  })

  test('stands upright on its base line, as wide as it says', async () => {
    const box = await ink('HOLDS 09')
    expect(box.bottom).toBeGreaterThanOrEqual(58)
    expect(box.bottom).toBeLessThanOrEqual(61)
    // The capitals of DejaVu are 0.729 em high, 29 px here.
    expect(box.bottom - box.top).toBeGreaterThan(27)
    expect(box.bottom - box.top).toBeLessThan(32)
    expect(box.right).toBeLessThan(10 + textWidth('HOLDS 09', 40))
    expect(box.right).toBeGreaterThan(10 + textWidth('HOLDS 09', 40) - 6)
  })

  test('has a counter in each figure that has one: 6 and 9 are not blots', async () => {
    const [six, nine, one] = await Promise.all([ink('6'), ink('9'), ink('1')])
    expect(Math.abs(six.count - nine.count)).toBeLessThan(12) // the one is the other upside down
    expect(nine.count).toBeLessThan(0.6 * (nine.right - nine.left + 1) * (nine.bottom - nine.top + 1))
    expect(one.count).toBeGreaterThan(50)
  })

  test('takes markup for letters', async () => {
    const text = '</svg><image href="x"/>&amp;'
    expect(lettering(text, { x: 0, y: 0, size: 10 })).not.toContain('image')
    expect((await ink(text)).count).toBeGreaterThan(1000)
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

// What the tests do while looking closer.
import type { Page } from 'playwright-core'

/** Opens a candidate by its place on the page and waits for its picture. */
export async function lookCloser(page: Page, nth = 0): Promise<void> {
  await page.locator('.row:not([hidden]) [data-part="look"]').nth(nth).click()
  await drawn(page)
}

/** Waits until the canvas has a picture, and the drawing of the last change is done. */
export async function drawn(page: Page): Promise<void> {
  await page.waitForFunction(
    () => (document.querySelector<HTMLCanvasElement>('.stage canvas')?.width ?? 0) > 1,
  )
  await page.evaluate(() => new Promise((done) => requestAnimationFrame(() => requestAnimationFrame(done))))
}

export interface Shot {
  readonly w: number
  readonly h: number
  readonly data: number[]
}

/** The canvas's samples, RGBA. As text they come a hundred times sooner than number by number. */
export async function samples(page: Page): Promise<Shot> {
  const { w, h, text } = await page.evaluate(() => {
    const canvas = document.querySelector<HTMLCanvasElement>('.stage canvas')!
    const { data } = canvas.getContext('2d')!.getImageData(0, 0, canvas.width, canvas.height)
    let bytes = ''
    for (const code of data) bytes += String.fromCharCode(code)
    return { w: canvas.width, h: canvas.height, text: btoa(bytes) }
  })
  return { w, h, data: [...Buffer.from(text, 'base64')] }
}

/** Share of pixels that differ between two columns (from inclusive, to exclusive). */
export function differs(a: Shot, b: Shot, from = 0, to = a.w): number {
  let different = 0
  for (let y = 0; y < a.h; y++) {
    for (let x = from; x < to; x++) {
      const i = 4 * (y * a.w + x)
      if (a.data[i] !== b.data[i] || a.data[i + 1] !== b.data[i + 1] || a.data[i + 2] !== b.data[i + 2])
        different++
    }
  }
  return different / (a.h * (to - from))
}

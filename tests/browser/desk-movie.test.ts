// A movie on the desk: scrubbed and played. Planted truth: frame n of the movie is one grey, and no two are alike; ffmpeg makes it (without
// ffmpeg these tests are skipped).
import { execFileSync, spawnSync } from 'node:child_process'
import { mkdirSync } from 'node:fs'
import { dirname, join } from 'node:path'
import type { Page } from 'playwright-core'
import { expect, test } from 'vitest'
import type { OpenedShot } from '../../src/desk/messages.js'
import { inDesk } from './desk-page.js'

const hasFfmpeg = ['ffmpeg', 'ffprobe'].every((name) => spawnSync(name, ['-version']).status === 0)
const [WIDTH, HEIGHT, COUNT] = [160, 120, 36]
const STEP = 6
const codeOf = (index: number) => 30 + STEP * index
/** On a busy machine a frame may take its time. */
const PATIENCE = { timeout: 30_000 }

/** Losslessly, so that a frame's grey is what was planted. */
function plantMovie(path: string): void {
  const frames = Array.from({ length: COUNT }, (_, i) => Buffer.alloc(3 * WIDTH * HEIGHT, codeOf(i)))
  const input = ['-f', 'rawvideo', '-pix_fmt', 'rgb24', '-s', `${WIDTH}x${HEIGHT}`, '-r', '24', '-i', '-']
  execFileSync('ffmpeg', ['-v', 'error', ...input, '-c:v', 'png', path], { input: Buffer.concat(frames) })
}

/** Which frame a grey is, from 0; null: none of them. A JPEG of one grey is off by a code at most. */
function indexOf(grey: number): number | null {
  const index = Math.round((grey - codeOf(0)) / STEP)
  return index >= 0 && index < COUNT && Math.abs(grey - codeOf(index)) <= 2 ? index : null
}

declare function seen(): number[]

/** What the page is asked by: all greys that have come up, in their order, the one that is shown last. */
function watch(): void {
  // The picture's own canvas is not made for being read.
  const probe = document.createElement('canvas').getContext('2d', { willReadFrequently: true })!
  const greyOfPicture = () => {
    const picture = document.querySelector<HTMLCanvasElement>('.picture-room canvas')!
    probe.drawImage(picture, picture.width >> 1, picture.height >> 1, 1, 1, 0, 0, 1, 1)
    return probe.getImageData(0, 0, 1, 1).data[1]!
  }
  const greys: number[] = []
  Object.assign(window, { seen: () => greys })
  const look = () => {
    const grey = greyOfPicture()
    if (greys.at(-1) !== grey) greys.push(grey)
    requestAnimationFrame(look)
  }
  look()
}

/** By the page's own record: a picture that is asked for between two frames of the page is not in it yet. */
const shownIn = async (page: Page) => indexOf(await page.evaluate(() => seen().at(-1)!))

inDesk('a movie', (bench) => {
  const title =
    'shows the frame that is gone to, forwards, backwards and far off, and plays every frame in order'
  test.skipIf(!hasFfmpeg)(title, async () => {
    // The desk writes nothing beside footage.
    const path = join(bench.folder(), 'movies', 'quay.mov')
    mkdirSync(dirname(path))
    plantMovie(path)
    const page = await bench.open()
    await page.getByLabel('A folder, one of its frames').fill(path)
    await page.getByRole('button', { name: 'Open', exact: true }).click()
    await page.locator('.picture-room').waitFor()
    const name = page.url().split('#/').at(-1)
    const { plates } = (await (await bench.desk().ask(`shots/${name}`)).json()) as OpenedShot
    const there = plates[0]!.frames
    const first = there[0]!
    expect(there).toHaveLength(COUNT)
    await page.evaluate(watch)
    await expect.poll(() => shownIn(page), PATIENCE).toBe(0)

    const strip = (await page.locator('.strip').boundingBox())!
    const at = (index: number) =>
      [strip.x + ((index + 0.5) / COUNT) * strip.width, strip.y + strip.height / 2] as const
    for (const index of [20, 3, 35, 34, 1]) {
      await page.mouse.click(...at(index))
      await expect.poll(() => shownIn(page), PATIENCE).toBe(index)
      expect(await page.locator('.strip').getAttribute('aria-valuenow')).toBe(String(first + index))
    }
    // Scrubbed: what is under the pointer when it stops is what is shown.
    await page.mouse.move(...at(2))
    await page.mouse.down()
    for (let index = 4; index <= 28; index += 2) await page.mouse.move(...at(index))
    await page.mouse.up()
    await expect.poll(() => shownIn(page), PATIENCE).toBe(28)

    await page.locator('.strip').press('Home')
    await expect.poll(() => shownIn(page), PATIENCE).toBe(0)
    const before = await page.evaluate(() => seen())
    // From the frame that it begins on.
    const played = async () => {
      const greys = await page.evaluate(() => seen())
      return greys.slice(before.length - 1)
    }
    await page.getByRole('button', { name: 'Play' }).click()
    await expect.poll(async () => (await played()).length, { timeout: 60_000 }).toBeGreaterThan(COUNT + 4)
    await page.getByRole('button', { name: 'Stop' }).click()
    const greys = await played()
    // Round the end it goes on with the first, and none is left out.
    expect(greys.map(indexOf)).toEqual(greys.map((_, i) => i % COUNT))

    // Values that are not known yet take as much room as those that are: the strip does not move under the pointer.
    const measured = await page.locator('.strip').boundingBox()
    await page.evaluate(() => {
      for (const end of document.querySelectorAll('.strip-scale span')) end.textContent = ''
    })
    expect(await page.locator('.strip').boundingBox()).toEqual(measured)
  })
})

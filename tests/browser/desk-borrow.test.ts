// A borrow at the desk, from an empty start to a written lighting pass. Planted truth: the frame on which a shadow lies deepest, and
// how deep. Outside truth: the commands that the page shows, run in a shell, which must write the same bytes; and the frames that they
// write, which the preview must have shown.
import { execFileSync } from 'node:child_process'
import { readdirSync, readFileSync } from 'node:fs'
import { join, relative } from 'node:path'
import type { Page } from 'playwright-core'
import sharp from 'sharp'
import { expect, test } from 'vitest'
import { viewingOf } from '../../src/colour/viewing.js'
import { RECT_HEADER } from '../../src/desk/messages.js'
import type { ShotState } from '../../src/desk/shot-state.js'
import { openPlate, readRect } from '../../src/footage/plate.js'
import { patch, plantShade } from '../search/shaded.js'
import { drag, expectSameFrames, inDesk, onScreen, typedByHand, violationsCloser } from './desk-page.js'
import { violations } from './violations.js'

const SEARCH_MS = 60_000
/** Where the shadow is wanted, and where it passes. */
const REGION = { x: 20, y: 40, w: 44, h: 36 }
const SURFACE = { x: 92, y: 44, w: 44, h: 36 }
const PEAK = 1024
const DEPTH = 0.6
const FRAMES = 40

/** Middle of a frame on something as wide as the plate is long. */
async function atFrame(page: Page, selector: string, frame: number, y: number): Promise<[number, number]> {
  const box = (await page.locator(selector).boundingBox())!
  return [box.x + ((frame - 1001 + 0.5) / FRAMES) * box.width, box.y + y]
}

function argumentsOf(pid: string): string[] {
  try {
    return readFileSync(`/proc/${pid}/cmdline`, 'utf8').split('\0').slice(0, -1)
  } catch {
    // It has ended.
    return []
  }
}

/** A command as a shell takes it apart, without the program's name. */
function shell(command: string): string[] {
  const said = execFileSync('sh', ['-c', `printf '%s\\n' ${command}`]).toString()
  return said.trim().split('\n').slice(1)
}

async function drawBox(page: Page, { x, y, w, h }: typeof REGION): Promise<void> {
  await drag(page, await onScreen(page, x, y), await onScreen(page, x + w, y + h))
}

const step = (page: Page, name: string) => page.getByRole('navigation').getByRole('button', { name }).click()

inDesk('a shadow is borrowed', (bench) => {
  /** Arguments of the search that runs now, as the process table has them, paths as they lie in the desk's folder. */
  const runningFind = (): string[] | null => {
    for (const pid of readdirSync('/proc').filter((name) => /^\d+$/.test(name))) {
      const args = argumentsOf(pid)
      const at = args.indexOf('find')
      if (at < 0 || !args.some((arg) => arg.startsWith(bench.desk().out))) continue
      const below = (arg: string) => (arg.startsWith(bench.folder()) ? relative(bench.folder(), arg) : arg)
      return args.slice(at).map(below)
    }
    return null
  }
  const stateOf = async () =>
    ((await (await bench.desk().ask('shots/quay')).json()) as { state: ShotState }).state

  test('drawn, hunted on another surface, lifted at half its strength, as the commands write it', async () => {
    const folder = join(bench.folder(), 'plates', 'promenade')
    const middle = { x: SURFACE.x + SURFACE.w / 2, y: SURFACE.y + SURFACE.h / 2 }
    await plantShade(folder, {
      frames: FRAMES,
      shades: [patch({ stops: -DEPTH, peak: PEAK - 1001, ...middle })],
    })
    const page = await bench.open()
    await page.getByLabel('A folder, one of its frames').fill(folder)
    await page.getByRole('button', { name: 'Open', exact: true }).click()
    await page.locator('.picture-room').waitFor()
    await page.getByRole('button', { name: 'Borrow a shadow' }).click()
    await drawBox(page, REGION)
    await page.getByRole('button', { name: 'Look in', exact: true }).click()
    await drawBox(page, SURFACE)
    await page.getByRole('button', { name: 'Next: say on which frames' }).click()
    await drag(page, await atFrame(page, '.strip', 1003, 5), await atFrame(page, '.strip', 1011, 5))
    expect(await page.getByLabel('Target frames').inputValue()).toBe('1003-1011')

    // A click beside the dip finds it; a pull from there says where it is wanted.
    await page.getByText('Light of the surface to hunt on', { exact: true }).waitFor()
    await page.mouse.click(...(await atFrame(page, '.light-curve canvas', PEAK - 2, 50)))
    await expect.poll(() => page.getByLabel('Like frame').inputValue()).toBe(String(PEAK))
    expect(await page.getByLabel('Peak wanted on').inputValue()).toBe('')
    const curve = await Promise.all([PEAK, 1006].map((at) => atFrame(page, '.light-curve canvas', at, 50)))
    await drag(page, curve[0]!, curve[1]!)
    await expect.poll(() => page.getByLabel('Peak wanted on').inputValue()).toBe('1006')
    await page.locator('.strip').press('Home')
    for (let at = 1001; at < PEAK; at++) await page.locator('.strip').press('ArrowRight')
    const said = await page.locator('.light-curve output').textContent()
    const stops = Number(/^1024: −(\d\.\d\d) stops$/.exec(said!)?.[1])
    // The mean over the box of the planted shadow; from the light of the frames that it does not touch.
    const planted = patch({ stops: -DEPTH, peak: PEAK - 1001, ...middle })
    let sum = 0
    for (let y = SURFACE.y; y < SURFACE.y + SURFACE.h; y++)
      for (let x = SURFACE.x; x < SURFACE.x + SURFACE.w; x++) sum -= planted(x, y, PEAK - 1001)
    expect(Math.abs(stops - sum / (SURFACE.w * SURFACE.h))).toBeLessThan(0.03)
    expect(await violations(page)).toEqual([])

    await page.getByRole('button', { name: 'Next: look for the moments' }).click()
    await page.getByRole('button', { name: 'Search', exact: true }).last().click()
    const running = await page.getByLabel('The command that runs').locator('pre').textContent()
    if (process.platform === 'linux') await expect.poll(runningFind).toEqual(shell(running!))
    await page.getByRole('button', { name: 'Search again' }).waitFor({ timeout: SEARCH_MS })
    await step(page, 'Choose')
    const id = `run+${PEAK - 1006}`
    await page.locator(`[data-candidate="${id}"] button`).first().click()
    expect(await violations(page)).toEqual([])
    expect(await violationsCloser(page, ['Wipe'])).toEqual([])
    await page.getByRole('button', { name: 'Patch with this one' }).click()
    await page.getByLabel('Strength').fill('0.5')
    await page.getByLabel('Strength').press('Enter')
    expect(await violations(page)).toEqual([])
    const write = async () => {
      // Those of earlier patches are folded.
      const done = page.locator('.written a', { hasText: 'check.html' })
      const before = await done.count()
      await page.getByRole('button', { name: 'Write the patch' }).click()
      await expect.poll(() => done.count(), { timeout: SEARCH_MS }).toBe(before + 1)
    }
    await write()
    await page.getByLabel('Whole repaired frames').click()
    await write()

    const { searches } = await stateOf()
    const [search] = searches
    expect(running).toBe(search!.command)
    expect(search!.command).toMatch(/^offcut find plates\/promenade --mask /)
    expect(search!.command).toMatch(/--peak 1006 --like 1024 --look-in \S*look-in-1\.svg/)
    const [pass, whole] = search!.patches
    expect(pass!.command).toContain('--strength 0.5')
    const typed = [search!.command, pass!.command]
    typedByHand(bench.folder(), typed, [['desk/quay/search-1', 'by-hand/search-1']])
    const byHand = join(bench.folder(), 'by-hand')
    expectSameFrames(join(bench.desk().out, 'quay', pass!.folder), join(byHand, pass!.folder), 9)

    // What the preview shows is what was written, seen on the same screen.
    const written = await openPlate(join(bench.desk().out, 'quay', whole!.folder))
    const { encoding } = await openPlate(folder)
    const q = { ...(await stateOf()).patch }
    let shaded = 0
    for (const frame of [1004, 1006, 1009]) {
      const asked = new URLSearchParams({ candidate: id, frame: String(frame), q: JSON.stringify(q) })
      const answer = await bench.desk().ask(`shots/quay/searches/search-1/preview.png?${asked}`)
      expect(answer.status).toBe(200)
      const [x, y, w, h] = answer.headers.get(RECT_HEADER)!.split(',').map(Number) as [number, number, number, number] // biome-ignore format: one rectangle
      const shown = await sharp(Buffer.from(await answer.arrayBuffer()))
        .raw()
        .toBuffer()
      const rect = { x, y, w, h }
      const viewing = viewingOf({ encoding })
      const codes = viewing.toDisplay(await readRect(written, frame, rect))
      expect(shown.length).toBe(codes.length)
      // The file's half floats: 2^-11 of the light, under half a code of 8 bits at its brightest.
      expect(Math.max(...codes.map((code, i) => Math.abs(code - shown[i]!)))).toBeLessThanOrEqual(1)
      const plate = viewing.toDisplay(await readRect(await openPlate(folder), frame, rect))
      shaded = Math.max(shaded, ...plate.map((code, i) => code - shown[i]!))
    }
    // It shows a shadow: half of 0.6 stops takes a fifth of the light away, some 18 codes of mid grey.
    expect(shaded).toBeGreaterThan(10)
  })
})

// The desk's page in a real Chromium, with its own server on a small planted plate.
import { execFileSync } from 'node:child_process'
import { readdirSync, readFileSync } from 'node:fs'
import { join } from 'node:path'
import { fileURLToPath } from 'node:url'
import { type Browser, type BrowserContextOptions, chromium, type Page } from 'playwright-core'
import { afterAll, afterEach, beforeAll, describe, expect, test } from 'vitest'
import { type Running, runDesk, scratch } from '../desk/served.js'
import { type Planted, plantPlate } from '../synthetic.js'
import { chromiumPath, FLAGS } from './chromium.js'
import { drawn } from './closer-page.js'
import { violations } from './violations.js'

const LAUNCHER = fileURLToPath(new URL('../../bin/offcut.js', import.meta.url))

export interface DeskBench {
  desk: () => Running
  /** Scratch; the desk was started in it. */
  folder: () => string
  plate: () => string
  /** A page of the desk. */
  open: (options?: BrowserContextOptions) => Promise<Page>
}

/** Where somebody stands on the first three frames of the planted plate, plate pixels. */
export const WHO = { x: 60, y: 40, w: 14, h: 30 } as const
export const FRAMES = 12

/** Tests with a desk of their own. The console must stay silent, and nothing but the desk be asked for anything. */
export function inDesk(title: string, body: (bench: DeskBench) => void): void {
  if (chromiumPath === null) {
    test.skip(
      `${title}: skipped, as no Chromium was found (apt-get install chromium, or name one in CHROME_PATH)`,
    )
    return
  }
  describe(title, { timeout: 90_000 }, () => {
    const { folder, remove } = scratch('desk-page')
    const plate = join(folder, 'plates', 'quay')
    let desk: Running
    let browser: Browser
    let said: string[] = []
    beforeAll(async () => {
      await plantQuay(plate)
      desk = await runDesk(folder, [])
      browser = await chromium.launch({ executablePath: chromiumPath!, args: FLAGS })
    })
    afterEach(async () => {
      for (const context of browser.contexts()) await context.close()
      const all = said
      said = []
      expect(all).toEqual([])
    })
    afterAll(async () => {
      await browser?.close()
      await desk?.close()
      remove()
    })
    body({
      desk: () => desk,
      folder: () => folder,
      plate: () => plate,
      open: async (options = {}) => {
        const page = await browser.newPage({ viewport: { width: 1280, height: 800 }, ...options })
        page.on('console', (message) => said.push(message.text()))
        page.on('pageerror', (error) => said.push(String(error.stack)))
        page.on('request', (request) => {
          const url = request.url()
          if (!url.startsWith(desk.address) && !/^(data|blob):/.test(url)) said.push(`asked for ${url}`)
        })
        await page.goto(desk.address)
        return page
      },
    })
  })
}

function plantQuay(folder: string): Promise<Planted> {
  return plantPlate(folder, {
    frames: FRAMES,
    occluders: (i) => (i < 3 ? [{ ...WHO, light: 0.9 }] : []),
  })
}

/** Where a plate pixel lies on the screen while all of the plate is shown. */
export async function onScreen(page: Page, x: number, y: number): Promise<[number, number]> {
  const room = (await page.locator('.picture-room').boundingBox())!
  const scale = Math.min(room.width / 160, room.height / 120)
  return [
    room.x + (room.width - 160 * scale) / 2 + x * scale,
    room.y + (room.height - 120 * scale) / 2 + y * scale,
  ]
}

/** Middle of a frame on the strip's upper edge. */
export async function onStrip(page: Page, frame: number): Promise<[number, number]> {
  const strip = (await page.locator('.strip').boundingBox())!
  return [strip.x + ((frame - 1001 + 0.5) / FRAMES) * strip.width, strip.y + 5]
}

export async function drag(page: Page, from: [number, number], to: [number, number]): Promise<void> {
  await page.mouse.move(...from)
  await page.mouse.down()
  await page.mouse.move((from[0] + to[0]) / 2, (from[1] + to[1]) / 2)
  await page.mouse.move(...to)
  await page.mouse.up()
}

/** The focus goes on by Tab until it is on what is called so. */
export async function tabTo(page: Page, name: string | RegExp): Promise<void> {
  const passed: string[] = []
  for (let i = 0; i < 150; i++) {
    await page.keyboard.press('Tab')
    const at = await page.evaluate(() => {
      const el = document.activeElement as HTMLInputElement | null
      const label = el?.labels?.[0]?.textContent ?? ''
      return (el?.getAttribute('aria-label') ?? (label || el?.textContent) ?? '').trim()
    })
    if (typeof name === 'string' ? at === name : name.test(at)) return
    passed.push(at)
  }
  throw new Error(`Tab never came to ${name}, only to ${[...new Set(passed)].join(' | ')}`)
}

/** The picked candidate in the sheet's viewer: what axe-core has against each of its views and its keys. */
export async function violationsCloser(page: Page, views: readonly string[]): Promise<string[]> {
  await page.getByRole('button', { name: 'Look closer' }).click()
  const found: string[] = []
  for (const view of views) {
    await page.locator('dialog').getByRole('button', { name: view, exact: true }).click()
    await drawn(page)
    found.push(...(await violations(page)))
  }
  await page.keyboard.press('?')
  found.push(...(await violations(page)))
  await page.keyboard.press('Escape')
  await page.keyboard.press('Escape')
  await page.locator('dialog[open]').waitFor({ state: 'detached' })
  return found
}

/** Commands that the page shows, run as they are typed, in the folder where the desk was started; their folders elsewhere. */
export function typedByHand(
  folder: string,
  commands: readonly string[],
  instead: readonly (readonly [folder: string, other: string])[],
): void {
  for (const command of commands) {
    expect(command).toMatch(/^offcut (find|patch) /)
    let text = command.replace(/^offcut /, `'${process.execPath}' '${LAUNCHER}' `)
    for (const [own, other] of instead) text = text.replaceAll(own, other)
    execFileSync('sh', ['-c', text], { cwd: folder, stdio: 'pipe' })
  }
}

/** Whether two folders have the same frames, byte for byte. */
export function expectSameFrames(a: string, b: string, count: number): void {
  const frames = (folder: string) => readdirSync(folder).filter((name) => /\.(exr|png)$/.test(name))
  expect(frames(a)).toHaveLength(count)
  expect(frames(b)).toEqual(frames(a))
  for (const name of frames(a))
    expect(readFileSync(join(a, name)).equals(readFileSync(join(b, name)))).toBe(true)
}

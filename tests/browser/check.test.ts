// The check page of a patch, in a browser: nothing fetched, read by axe, flipped by mouse and keyboard.
import { mkdir } from 'node:fs/promises'
import { join } from 'node:path'
import type { Page } from 'playwright-core'
import { expect, test } from 'vitest'
import { openRepair } from '../../src/repair/repair.js'
import { writePatchFolder } from '../../src/sheet/patch-folder.js'
import { resultFor } from '../repair/job.js'
import { plantPlate } from '../synthetic.js'
import { inChromium } from './chromium.js'
import { violations } from './violations.js'

inChromium('the check page', ({ folder, open }) => {
  let made = 0
  async function checkOf(options: Parameters<typeof writePatchFolder>[3] = {}): Promise<string> {
    const at = join(folder(), `check${made++}`)
    const plate = await plantPlate(join(at, 'plate'), {
      frames: 8,
      occluders: (i) => (i < 3 ? [{ x: 62, y: 42, w: 18, h: 24, light: 0.02 }] : []),
    })
    const lent = [1001, 1002].map((target) => ({
      target,
      donor: 1006,
      dx: 0.5,
      gain: [1.1, 1, 0.9] as const,
    }))
    const { result, candidate } = resultFor(plate.folder, lent, { frames: 8, empty: [1003] })
    result.target.frames = [1001, 1002, 1004]
    const out = join(at, 'out')
    await mkdir(out)
    await writePatchFolder(out, await openRepair(result), candidate, options)
    return join(out, 'check.html')
  }
  const shown = (page: Page, frame: number) => {
    const article = page.locator(`article[aria-labelledby="frame-${frame}"]`)
    const result = article.locator('[data-shows="result"]')
    return {
      flip: article.getByRole('button'),
      name: () => result.locator('[data-name]').textContent(),
      isTarget: async () =>
        (await result.locator('image').getAttribute('href')) ===
        (await article.locator('[data-shows="target"] image').getAttribute('href')),
    }
  }

  test.each([390, 1280, 1920])('has nothing that axe finds fault with, %i px wide', async (width) => {
    const { page } = await open(await checkOf(), { viewport: { width, height: 900 } })
    expect(await violations(page)).toEqual([])
    const beyond = await page.evaluate(() => document.documentElement.scrollWidth - innerWidth)
    expect(beyond).toBeLessThanOrEqual(0)
  })

  test.each([390, 1280])(
    'has what is wanted of each number in sight beside it, %i px wide',
    async (width) => {
      const { page } = await open(await checkOf(), { viewport: { width, height: 900 } })
      for (const cell of await page.locator('.compared th, .compared td, .compared caption').all()) {
        const { x, width: w } = (await cell.boundingBox())!
        expect(x + w, (await cell.textContent())!).toBeLessThanOrEqual(width)
      }
    },
  )

  test.each([390, 420, 1280])('keeps each grey of the legend beside its word, %i px wide', async (width) => {
    const { page } = await open(await checkOf(), { viewport: { width, height: 900 } })
    const names = await page.locator('article').first().locator('.legend > span').all()
    expect(await Promise.all(names.map(async (name) => (await name.textContent())?.trim()))).toEqual([
      'darker',
      'same',
      'lighter',
    ])
    for (const name of names) expect(await name.evaluate((e) => e.getClientRects().length)).toBe(1)
  })

  test('says first which frames are missing and which are black', async () => {
    const { page } = await open(await checkOf())
    const warnings = page.locator('.warnings')
    await expect.poll(() => warnings.textContent()).toMatch(/relay-1 fills no frame 1004: there is no file/)
    expect(await warnings.textContent()).toMatch(/the mask is black on frame 1003/)
    // Nobody is told that it holds up without a word of what to look at.
    expect(await page.locator('h1').textContent()).toMatch(/^relay-1 .*, with \d+ warnings$/)
    const below = await page.locator('#frames').boundingBox()
    expect((await warnings.boundingBox())!.y).toBeLessThan(below!.y)
  })

  test('has of each frame target, patch, result and difference, and a row of numbers', async () => {
    const { page } = await open(await checkOf())
    expect(await page.locator('article').count()).toBe(3)
    expect(await page.locator('article').first().locator('figcaption').allTextContents()).toEqual([
      'target',
      'patch over grey',
      'result',
      expect.stringContaining('difference'),
    ])
    const rows = await page
      .getByRole('table', { name: 'What lends to each frame' })
      .locator('tbody tr')
      .allInnerTexts()
    const lent = rows[0].split('\t')
    expect(lent.slice(0, 9)).toEqual([
      '1001',
      '1.00',
      '1006',
      '+5',
      '0.50',
      '0.00',
      '1.100',
      '1.000',
      '0.900',
    ])
    // ... and what was measured of it: seam, flicker, three of noise.
    expect(lent).toHaveLength(14)
    for (const figure of lent.slice(9)) expect(figure).toMatch(/^(\d+\.\d\d|–)$/)
    expect(rows).toHaveLength(3)
    // What stands in the table stands with the frame's pictures, too, and for all frames above them.
    const told = (await page.locator('article').first().locator('.note').allTextContents()).at(-1)!
    const [seam] = lent.slice(9)
    expect(told).toContain(seam === '–' ? 'nothing to measure it by' : `seam ${seam}`)
    const beside = (await page.getByRole('table', { name: 'The patch beside the plate' }).boundingBox())!
    expect(beside.y).toBeLessThan((await page.locator('article').first().boundingBox())!.y)
    await expect.poll(() => page.locator('.facts').textContent()).toContain('1001-1003')
  })

  test('of whole frames shows no patch', async () => {
    const { page } = await open(await checkOf({ whole: true }))
    expect(await page.locator('article').first().locator('figure').count()).toBe(3)
  })

  test('flips by keyboard, at most three times a second, one frame at a time, and back to the result', async () => {
    const { page } = await open(await checkOf())
    const [one, two] = [shown(page, 1001), shown(page, 1002)]
    await one.flip.focus()
    await page.keyboard.press('Enter')
    await expect.poll(one.isTarget).toBe(true)
    const changes = await page.evaluate(
      () =>
        new Promise<number>((done) => {
          let changes = 0
          const watch = new MutationObserver((all) => {
            changes += all.length
          })
          const image = document.querySelector('article [data-shows="result"] image')!
          watch.observe(image, { attributes: true, attributeFilter: ['href'] })
          setTimeout(() => done(changes), 2000)
        }),
    )
    expect(changes).toBeGreaterThanOrEqual(2)
    expect(changes).toBeLessThanOrEqual(6)
    await two.flip.click()
    expect([await one.name(), await one.isTarget()]).toEqual(['result', false])
    await expect.poll(two.isTarget).toBe(true)
    await two.flip.click()
    expect([await two.name(), await two.isTarget()]).toEqual(['result', false])
  })

  test('moves nothing by itself for who wants no motion: each press shows the other', async () => {
    const { page } = await open(await checkOf(), { reducedMotion: 'reduce' })
    const { flip, isTarget } = shown(page, 1001)
    await flip.click()
    expect(await isTarget()).toBe(true)
    await page.waitForTimeout(1200)
    expect(await isTarget()).toBe(true)
    await flip.click()
    expect(await isTarget()).toBe(false)
  })
})

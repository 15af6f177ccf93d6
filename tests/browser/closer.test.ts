import { join } from 'node:path'
import type { Page } from 'playwright-core'
import { expect, test } from 'vitest'
import { writeSheet } from '../../src/sheet/sheet.js'
import { heronResult, quaysidePictures, quaysideResult, quaysideWhole } from '../sheet/quayside.js'
import { inChromium } from './chromium.js'
import { differs, drawn, lookCloser, samples } from './closer-page.js'

const result = quaysideResult({ candidates: 3, frames: 5 })

inChromium('looking closer', ({ folder, sheet, open }) => {
  const opened = async (options = {}) => {
    const { page } = await open(await sheet('closer', result), options)
    await lookCloser(page, 1)
    return page
  }
  const view = async (page: Awaited<ReturnType<typeof opened>>, name: string) => {
    await page.getByRole('button', { name, exact: true }).click()
    await drawn(page)
    return samples(page)
  }

  test('scrubs: every frame has its own picture and says its numbers', async () => {
    const page = await opened()
    await page.getByLabel('Frame', { exact: true }).fill('0')
    const shots = []
    for (const [i, match] of result.candidates[1].frames.entries()) {
      await page.getByLabel('Frame', { exact: true }).fill(String(i))
      await page.waitForFunction(
        (target) => document.getElementById('closer-target')!.textContent === target,
        String(match.target),
      )
      await page.waitForTimeout(50)
      await drawn(page)
      expect(await page.locator('.course-frame').textContent()).toContain(`donor ${match.donor}`)
      shots.push(await samples(page))
    }
    for (let i = 1; i < shots.length; i++) expect(differs(shots[i - 1], shots[i])).toBeGreaterThan(0.3)
  })

  test('repaired differs from the target inside the mask and nowhere else', async () => {
    const page = await opened()
    const [repaired, target] = [await view(page, 'Repaired'), await view(page, 'Target')]
    const { w, h } = repaired
    let [inside, outside] = [0, 0]
    for (let y = 0, i = 0; y < h; y++) {
      for (let x = 0; x < w; x++, i += 4) {
        if (repaired.data[i] === target.data[i] && repaired.data[i + 2] === target.data[i + 2]) continue
        // The mask of the quayside is the ellipse that fills the region, 32 px from the edge of the picture.
        const r = Math.hypot((x + 0.5 - w / 2) / (w / 2 - 32), (y + 0.5 - h / 2) / (h / 2 - 32))
        if (r <= 1) inside++
        else outside++
      }
    }
    expect(outside).toBe(0)
    expect(inside).toBeGreaterThan(1000)
  })

  test('wipes: left of the edge the target, right of it the repaired picture, pixel for pixel', async () => {
    const page = await opened()
    const [repaired, target] = [await view(page, 'Repaired'), await view(page, 'Target')]
    await view(page, 'Wipe')
    await page.getByLabel('Wipe', { exact: true }).fill('0.25')
    await drawn(page)
    const wiped = await samples(page)
    const edge = Math.round(0.25 * wiped.w)
    expect(differs(wiped, target, 0, edge)).toBe(0)
    expect(differs(wiped, repaired, edge)).toBe(0)
    expect(differs(wiped, target, edge)).toBeGreaterThan(0.05)
  })

  test('wipes by dragging, too', async () => {
    const page = await opened()
    await view(page, 'Wipe')
    const box = (await page.locator('.stage canvas').boundingBox())!
    await page.mouse.move(box.x + box.width / 2, box.y + 50)
    await page.mouse.down()
    await page.mouse.move(box.x + 0.8 * box.width, box.y + 60)
    await page.mouse.up()
    expect(Number(await page.getByLabel('Wipe', { exact: true }).inputValue())).toBeCloseTo(0.8, 1)
  })

  test('zooms by whole pixels and without smoothing', async () => {
    const page = await opened()
    await page.keyboard.press('0')
    // It fits four times enlarged.
    for (const [key, zoom] of [
      ['+', 6],
      ['+', 8],
      ['-', 6],
      ['-', 4],
    ] as const) {
      await page.keyboard.press(key)
      await drawn(page)
      const { width, rendering } = await page.evaluate(() => {
        const canvas = document.querySelector<HTMLCanvasElement>('.stage canvas')!
        return {
          width: canvas.getBoundingClientRect().width / canvas.width,
          rendering: getComputedStyle(canvas).imageRendering,
        }
      })
      expect({ width, rendering }).toEqual({ width: zoom, rendering: 'pixelated' })
    }
  })

  test('of a plate whose pixels are twice as wide as high shows them so, the outline with them, close up and whole', async () => {
    const out = join(folder(), 'squeezed')
    await writeSheet(out, result, quaysidePictures(result), {
      pixelAspect: 2,
      wholeFrame: quaysideWhole(result),
    })
    const { page } = await open(join(out, 'sheet.html'))
    await lookCloser(page, 1)
    await page.getByLabel('Outline of the mask').check()
    for (const whole of [false, true]) {
      await page.getByLabel('Whole frame').setChecked(whole)
      await drawn(page)
      const of = await page.evaluate(() => {
        const canvas = document.querySelector<HTMLCanvasElement>('.stage-region canvas')!
        const seen = canvas.getBoundingClientRect()
        const mask = document.querySelector('.stage-outline .outline')!.getBoundingClientRect()
        const all = document.querySelector('.stage-sheet')!.getBoundingClientRect()
        return {
          pixel: seen.width / canvas.width / (seen.height / canvas.height),
          sheet: all.width / all.height,
          maskInside: mask.left >= seen.left && mask.right <= seen.right && mask.width > 0.4 * seen.width,
        }
      })
      expect(of.pixel).toBeCloseTo(2, 2)
      expect(of.maskInside).toBe(true)
      if (whole) expect(of.sheet).toBeCloseTo((2 * result.target.width) / result.target.height, 1)
    }
  })

  test('keeps its buttons together where a long name leaves them a line of their own', async () => {
    const named = quaysideResult({ candidates: 3, frames: 5 })
    const page = (await open(await sheet('closer', named), { viewport: { width: 700, height: 900 } })).page
    await lookCloser(page, 1)
    const rights = await page
      .locator('.viewer-buttons button')
      .evaluateAll((buttons) => buttons.map((b) => b.getBoundingClientRect().top))
    expect(rights.length).toBeGreaterThanOrEqual(4)
    expect(Math.max(...rights) - Math.min(...rights)).toBeLessThan(4)
  })

  test('a stop of exposure doubles the light (IEC 61966-2-1 decodes the codes), gamma moves the middle, ends stay', async () => {
    const page = await opened()
    const before = await view(page, 'Repaired')
    for (let i = 0; i < 3; i++) await page.keyboard.press('e')
    await drawn(page)
    expect(await page.getByText('+1.0 stops').isVisible()).toBe(true)
    const after = await samples(page)
    const light = (code: number) =>
      code / 255 <= 0.04045 ? code / 255 / 12.92 : ((code / 255 + 0.055) / 1.055) ** 2.4
    for (let i = 0; i < before.data.length; i += 4 * 97) {
      const wanted = 2 * light(before.data[i])
      if (wanted < 0.98) expect(light(after.data[i]) / wanted).toBeCloseTo(1, 1)
    }
    await page.keyboard.press('b')
    await page.keyboard.press('g')
    await drawn(page)
    const lifted = await samples(page)
    expect(lifted.data[0]).toBeGreaterThan(before.data[0])
  })

  test('shows the difference round mid grey, stronger as asked', async () => {
    const page = await opened()
    const spread = async () => {
      const { data } = await view(page, 'Difference')
      let sum = 0
      for (let i = 0; i < data.length; i += 4) sum += Math.min(60, Math.abs(data[i] - 128))
      return sum
    }
    const eight = await spread()
    const corner = await samples(page)
    expect(corner.data.slice(0, 3)).toEqual([128, 128, 128])
    await page.keyboard.press('D')
    await drawn(page)
    const four = await spread()
    expect(four).toBeLessThan(0.75 * eight)
    expect(four).toBeGreaterThan(0.35 * eight)
  })

  test('plays at the rate chosen, round and round, and stops', async () => {
    const page = await opened()
    await page.getByLabel('Rate').selectOption('12')
    await page.evaluate(() => {
      const seen: string[] = []
      const times: number[] = []
      Object.assign(window, { seen, times })
      new MutationObserver(() => {
        seen.push(document.getElementById('closer-target')!.textContent!)
        times.push(performance.now())
      }).observe(document.getElementById('closer-target')!, {
        characterData: true,
        childList: true,
        subtree: true,
      })
    })
    await page.getByRole('button', { name: 'Play', exact: true }).click()
    await page.waitForTimeout(1500)
    await page.getByRole('button', { name: 'Stop', exact: true }).click()
    const seen = await page.evaluate(() => (window as unknown as { seen: string[] }).seen)
    const played = await page.evaluate(() => {
      const { times } = window as unknown as { times: number[] }
      return times[times.length - 1] - times[0]
    })
    // 12 a second; a busy machine may lose a few, none may be gained, however long the click on Stop took.
    expect(seen.length).toBeGreaterThan(9)
    expect(seen.length).toBeLessThanOrEqual(2 + (12 * played) / 1000)
    for (let i = 1; i < seen.length; i++) expect((Number(seen[i]) - Number(seen[i - 1]) + 5) % 5).toBe(1)
    await page.waitForTimeout(300)
    expect(
      await page.evaluate(() => (window as unknown as { seen: string[] }).seen.length),
    ).toBeLessThanOrEqual(seen.length + 1)
  })

  const flips = async (page: Awaited<ReturnType<typeof opened>>, ms: number) => {
    await view(page, 'Flip')
    return page.evaluate(async (until) => {
      const canvas = document.querySelector<HTMLCanvasElement>('.stage canvas')!
      const middle = () =>
        canvas
          .getContext('2d')!
          .getImageData(canvas.width / 2, canvas.height / 2, 1, 1)
          .data.join()
      let [last, changes] = [middle(), 0]
      const end = performance.now() + until
      while (performance.now() < end) {
        await new Promise((next) => setTimeout(next, 20))
        const now = middle()
        if (now !== last) changes++
        last = now
      }
      return changes
    }, ms)
  }

  test('flips by itself, no faster than three times a second (WCAG 2.2, 2.3.1)', async () => {
    const page = await opened()
    const changes = await flips(page, 2000)
    expect(changes).toBeGreaterThanOrEqual(2)
    expect(changes).toBeLessThanOrEqual(6)
  })

  test('does not flip by itself for who asks for less motion, but does by hand', async () => {
    const page = await opened({ reducedMotion: 'reduce' })
    expect(await flips(page, 1500)).toBe(0)
    const before = await samples(page)
    await page.keyboard.press('f')
    await drawn(page)
    expect(differs(before, await samples(page))).toBeGreaterThan(0.05)
  })

  test('goes on to the next candidate on the same frame, and back to the page where it was', async () => {
    const page = await opened()
    await page.getByLabel('Frame', { exact: true }).fill('3')
    const target = await page.locator('#closer-target').textContent()
    await page.getByRole('button', { name: 'Next', exact: true }).click()
    await drawn(page)
    expect(await page.locator('#closer-name').textContent()).toContain('3 Mirror')
    expect(await page.locator('#closer-target').textContent()).toBe(target)
    await page.keyboard.press('Escape')
    expect(await page.evaluate(() => document.activeElement!.closest('.row')!.id)).toBe(
      `way-${result.candidates[2].id}`,
    )
  })

  test('opens with the picture that was clicked', async () => {
    const { page } = await open(await sheet('closer', result))
    await page.locator('.row').first().locator('[data-view="difference"]').click()
    await drawn(page)
    expect(
      await page.getByRole('button', { name: 'Difference', exact: true }).getAttribute('aria-pressed'),
    ).toBe('true')
  })

  test('begins with the weakest frame, as the row does', async () => {
    const { page } = await open(await sheet('closer', result))
    for (const nth of [0, 1, 2]) {
      const row = page.locator('.row').nth(nth)
      const [, weakest] = /(\d+)/.exec((await row.locator('[data-view="target"] b').textContent())!)!
      await lookCloser(page, nth)
      expect(await page.locator('#closer-target').textContent()).toBe(weakest)
      await page.keyboard.press('End')
      await page.keyboard.press('Escape')
    }
  })

  test('begins with the peak of a shadow to be borrowed', async () => {
    const heron = heronResult()
    const { page } = await open(await sheet('closer-heron', heron))
    await lookCloser(page, 1)
    const { moment, timeOffset } = heron.candidates[1]
    expect(await page.locator('#closer-target').textContent()).toBe(String(moment!.peak - timeOffset!))
  })

  /** What of the picture lies under a point of the window, picture pixels. */
  const under = (page: Page, x: number, y: number) =>
    page.evaluate(
      ([x, y]) => {
        const canvas = document.querySelector<HTMLCanvasElement>('.stage-region canvas')!
        const { left, top, width } = canvas.getBoundingClientRect()
        const scale = width / canvas.width
        return { x: (x - left) / scale, y: (y - top) / scale, scale }
      },
      [x, y],
    )

  test('zooms about the pointer with the wheel: what is under it stays there, in and out', async () => {
    const page = await opened()
    const box = (await page.locator('.stage-region canvas').boundingBox())!
    const [x, y] = [Math.round(box.x + 0.3 * box.width), Math.round(box.y + 0.7 * box.height)]
    await page.mouse.move(x, y)
    const before = await under(page, x, y)
    const scrolled = await page.evaluate(() => scrollY)
    const scales: number[] = [before.scale]
    for (const turn of [-120, -120, -120, 120]) {
      await page.mouse.wheel(0, turn)
      await drawn(page)
      const now = await under(page, x, y)
      scales.push(now.scale)
      // Where a picture lies is rounded to screen pixels.
      expect(Math.abs(now.x - before.x)).toBeLessThan(1)
      expect(Math.abs(now.y - before.y)).toBeLessThan(1)
    }
    expect(scales[1]).toBeGreaterThan(scales[0])
    expect(scales[2]).toBeGreaterThan(scales[1])
    expect(scales[4]).toBe(scales[2])
    // The page below stays where it was.
    expect(await page.evaluate(() => scrollY)).toBe(scrolled)
    for (let i = 0; i < 6; i++) await page.mouse.wheel(0, 120)
    await drawn(page)
    expect(await page.locator('.stage-region canvas').boundingBox()).toEqual(box)
  })

  test('pans by dragging, as far as the pointer goes, in a wipe with Shift, and by Shift with the arrows', async () => {
    const page = await opened()
    for (let i = 0; i < 4; i++) await page.keyboard.press('+')
    const place = async () => {
      await drawn(page)
      const { x, y } = (await page.locator('.stage-region canvas').boundingBox())!
      return { x, y }
    }
    const drag = async () => {
      const from = await place()
      await page.mouse.move(400, 400)
      await page.mouse.down()
      await page.mouse.move(420, 390)
      await page.mouse.move(460, 370)
      await page.mouse.up()
      await page.mouse.move(500, 300)
      const to = await place()
      return [to.x - from.x, to.y - from.y]
    }
    expect(await drag()).toEqual([60, -30])
    await view(page, 'Wipe')
    expect(await drag()).toEqual([0, 0])
    await page.keyboard.down('Shift')
    expect(await drag()).toEqual([60, -30])
    await page.keyboard.up('Shift')
    const from = await place()
    await page.keyboard.press('Shift+ArrowRight')
    await page.keyboard.press('Shift+ArrowDown')
    const to = await place()
    expect(to.x).toBeLessThan(from.x)
    expect(to.y).toBeLessThan(from.y)
  })

  test('shows the whole frame round the region, each where it belongs', async () => {
    const page = await opened()
    await page.keyboard.press('v')
    await page.waitForFunction(
      () => (document.querySelector<HTMLCanvasElement>('.stage-whole')?.width ?? 0) > 300,
    )
    const [whole, region] = await Promise.all(
      ['.stage-whole', '.stage-region canvas'].map((of) => page.locator(of).boundingBox()),
    )
    const { target, region: asked } = result
    const scale = whole!.width / target.width
    expect(whole!.height / target.height).toBeCloseTo(scale, 3)
    // The pictures reach 32 px beyond the region's box.
    expect(Math.abs(region!.x - whole!.x - scale * (asked.box[0] - 32))).toBeLessThan(1)
    expect(Math.abs(region!.width - scale * (asked.box[2] + 64))).toBeLessThan(1)
    // Planted: the frame is darker from the middle of the region on.
    const step = await page.evaluate(() => {
      const canvas = document.querySelector<HTMLCanvasElement>('.stage-whole')!
      const { data } = canvas.getContext('2d')!.getImageData(0, 0, canvas.width, 1)
      const half = (data[0] + data[4 * (canvas.width - 1)]) / 2
      for (let x = 0; x < canvas.width; x++) if (data[4 * x] < half) return x / canvas.width
      return null
    })
    expect(step).toBeCloseTo((asked.box[0] + asked.box[2] / 2) / target.width, 2)
    await page.keyboard.press('Home')
    expect(await page.getByText(/Round the region: frame \d+/).count()).toBeLessThanOrEqual(1)
    await page.keyboard.press('v')
    expect(await page.locator('.stage-whole').count()).toBe(0)
  })

  test('puts two candidates side by side: one frame, one zoom, and decides on the one that is marked', async () => {
    const page = await opened()
    await page.keyboard.press('c')
    await drawn(page)
    const alts = () =>
      page.locator('.stage-region canvas').evaluateAll((all) => all.map((c) => c.getAttribute('aria-label')!))
    const frames = async () => (await alts()).map((alt) => /target frame (\d+)/.exec(alt)![1])
    const names = async () => (await page.locator('.pane-name').allTextContents()).map((name) => name[0])
    const marked = () =>
      page.locator('.pane').evaluateAll((all) => all.map((pane) => pane.hasAttribute('aria-current')))
    expect(await names()).toEqual(['2', '3'])
    expect(await marked()).toEqual([true, false])
    await page.keyboard.press('Home')
    expect(await frames()).toEqual(['1060', '1060'])
    await page.keyboard.press('ArrowRight')
    expect(await frames()).toEqual(['1061', '1061'])
    const sizes = async () => {
      await drawn(page)
      return page
        .locator('.stage-region canvas')
        .evaluateAll((all) => all.map((c) => c.getBoundingClientRect().width))
    }
    const before = await sizes()
    await page.keyboard.press('+')
    const after = await sizes()
    expect(after[0]).toBeGreaterThan(before[0])
    expect(after[1]).toBe(after[0])
    // The focus goes over to the right one: it is in question now, and each stays on its side.
    await page.locator('.pane').nth(1).locator('.stage').focus()
    expect(await marked()).toEqual([false, true])
    expect(await names()).toEqual(['2', '3'])
    await page.keyboard.press('r')
    await page.keyboard.press('x')
    expect(await marked()).toEqual([true, false])
    await page.keyboard.press('a')
    await page.keyboard.press('c')
    expect(await page.locator('.pane').count()).toBe(1)
    await page.keyboard.press('Escape')
    const decided = await page
      .locator('.row')
      .evaluateAll((rows) => rows.map((row) => (row as HTMLElement).dataset.decision ?? null))
    expect(decided).toEqual([null, 'accept', 'reject'])
  })

  test('plays both of two together, whichever has the focus', async () => {
    const page = await opened()
    await page.getByLabel('Beside it').selectOption('0')
    await page.locator('.pane').nth(1).locator('.stage').focus()
    await page.keyboard.press('Space')
    const together = await page.evaluate(async () => {
      const seen: string[][] = []
      for (let i = 0; i < 12; i++) {
        await new Promise((next) => setTimeout(next, 60))
        const alts = [...document.querySelectorAll('.stage-region canvas')]
        seen.push(alts.map((c) => /target frame (\d+)/.exec(c.getAttribute('aria-label')!)![1]))
      }
      return seen
    })
    expect(new Set(together.map(([one]) => one)).size).toBeGreaterThan(2)
    for (const [one, other] of together) expect(other).toBe(one)
  })
})

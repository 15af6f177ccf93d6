import type { Page } from 'playwright-core'
import { expect, test } from 'vitest'
import { packPieces } from '../../src/search/piece-map.js'
import type { Candidate } from '../../src/search/result.js'
import { heronResult, quaysideResult, withCamera, withCuts } from '../sheet/quayside.js'
import { inChromium } from './chromium.js'
import { lookCloser } from './closer-page.js'

/**
 * What stands in the way of reading: text or pictures that overlap, reach beyond the window, or are cut off by their
 * box. Boxes are those of the glyphs, not of the elements round them.
 */
function faults(page: Page, root: string): Promise<string[]> {
  return page.evaluate((selector) => {
    const found: string[] = []
    const scope = document.querySelector(selector)!
    const pieces: { name: string; element: Element; box: DOMRect }[] = []
    const visible = (element: Element) =>
      element.checkVisibility({ opacityProperty: true, visibilityProperty: true }) &&
      !element.closest('.unseen, .skip, .help')
    const walker = document.createTreeWalker(scope, NodeFilter.SHOW_TEXT)
    for (let node = walker.nextNode(); node; node = walker.nextNode()) {
      const parent = node.parentElement!
      if (!node.textContent!.trim() || !visible(parent) || parent.closest('script, style, option, svg'))
        continue
      const range = document.createRange()
      range.selectNodeContents(node)
      for (const box of range.getClientRects()) {
        pieces.push({ name: node.textContent!.trim().slice(0, 30), element: parent, box })
      }
    }
    for (const element of scope.querySelectorAll('svg, canvas, input, select, button')) {
      if (!visible(element) || element.closest('svg') !== (element.tagName === 'svg' ? element : null))
        continue
      if (element.classList.contains('stage-outline')) continue
      pieces.push({
        name: `${element.tagName}.${element.getAttribute('class') ?? ''}`,
        element,
        box: element.getBoundingClientRect(),
      })
    }
    const shown = pieces.filter(({ box }) => box.width > 0 && box.height > 0)
    for (const { name, element, box } of shown) {
      if (element.closest('.scrolls, .stage')) continue
      if (box.left < -0.5 || box.right > innerWidth + 0.5)
        found.push(`beyond the window: ${name} ${box.left} to ${box.right}`)
    }
    for (let i = 0; i < shown.length; i++) {
      for (let j = i + 1; j < shown.length; j++) {
        const [a, b] = [shown[i], shown[j]]
        if (a.element.contains(b.element) || b.element.contains(a.element)) continue
        const w = Math.min(a.box.right, b.box.right) - Math.max(a.box.left, b.box.left)
        const h = Math.min(a.box.bottom, b.box.bottom) - Math.max(a.box.top, b.box.top)
        // Line boxes of tight headings touch; letters that cover each other do so by more than two pixels.
        if (w > 2 && h > 2) found.push(`over each other: ${a.name} / ${b.name}`)
      }
    }
    for (const element of scope.querySelectorAll('*')) {
      if (!visible(element) || element.closest('.scrolls, .stage')) continue
      const style = getComputedStyle(element)
      if (style.overflowX === 'visible' || element.matches('.unseen, select, input')) continue
      if (element.scrollWidth > element.clientWidth + 1)
        found.push(`cut off: ${element.tagName} ${element.className}`)
    }
    if (document.documentElement.scrollWidth > innerWidth)
      found.push(`the page is ${document.documentElement.scrollWidth} wide`)
    return found
  }, root)
}

const LONG = `quayside/${'a-very-long-folder-name-without-a-break_'.repeat(4)}/plate.####.exr`
const result = withCamera(withCuts(quaysideResult({ candidates: 6, frames: 3, plate: LONG, region: 120 })))
result.warnings = [`frame 1093 of ${LONG} is missing`, 'the light drifts by 0.4 stops over the plate']
result.candidates[2].why = 'x'.repeat(300)
result.candidates[3].donor = 1
result.candidates[1] = asMosaic(result.candidates[1])
// Its words are longer than the two columns that they take.
const field = {
  x: 700,
  y: 460,
  span: 60,
  stops: Array(4).fill([0.1, 0.1, 0.1]) as [number, number, number][],
}
result.candidates[0].frames = result.candidates[0].frames.map((match) => ({ ...match, field }))

/** Each half of the region from another frame. */
function asMosaic(candidate: Candidate): Candidate {
  const [x, y, w, h] = result.region.box
  const labels = Uint8Array.from({ length: w * h }, (_, i) => (i % w < w / 2 ? 0 : 1))
  const piece = { plate: 0, dx: -12.25, dy: -0.5, gain: [1, 1, 1] as [number, number, number], weight: 0.5 }
  const pieces = [1101, 1143].map((frame) => ({ ...piece, frame }))
  return {
    ...candidate,
    id: 'mosaic-1',
    kind: 'mosaic',
    map: packPieces(labels, { x, y, w, h }),
    frames: candidate.frames.map((match) => ({ ...match, pieces, map: { dx: 0, dy: 0 } })),
  }
}

inChromium('the first screen', ({ sheet, open }) => {
  const warned = withCamera(withCuts(quaysideResult({ candidates: 6, frames: 8 })))
  warned.warnings = [
    'frame 1093 of the plate is missing',
    'the light drifts by 0.4 stops over the plate, which candidates from its end are matched for',
    'something reaches 4 px beyond the lower edge of the mask: grow it by 6 px',
  ]
  const tall = quaysideResult({ candidates: 3, frames: 3 })
  tall.region.box = [640, 200, 60, 240]
  const stripe = quaysideResult({ candidates: 3, frames: 3 })
  stripe.region.box = [640, 400, 480, 30]
  const wide = quaysideResult({ candidates: 3, frames: 3 })
  wide.region.box = [640, 400, 400, 90]

  const results = { warned, tall, stripe, wide, heron: heronResult() }
  test.each(Object.keys(results) as (keyof typeof results)[])(
    'has the first candidate, whole: its verdict beside target and repaired (%s)',
    async (name) => {
      for (const [width, height] of [
        [1280, 800],
        [1920, 1080],
        [3840, 2160],
      ]) {
        const { page } = await open(await sheet(`first-${name}`, results[name]), {
          viewport: { width, height },
        })
        const row = page.locator('.row').first()
        for (const part of ['.verdict', '[data-view="target"] .picture', '[data-view="repaired"] .picture']) {
          const box = (await row.locator(part).boundingBox())!
          const what = `${part} at ${width} x ${height}`
          expect(box.y, what).toBeGreaterThanOrEqual(0)
          expect(box.y + box.height, what).toBeLessThanOrEqual(height)
          if (part !== '.verdict') expect(Math.min(box.width, box.height), what).toBeGreaterThan(50)
        }
      }
    },
  )

  test('keeps all else a step away: warnings, where the mask cuts, what was asked and assumed', async () => {
    const { page } = await open(await sheet('first-warned', warned))
    const hidden = page.getByText('something reaches 4 px beyond the lower edge of the mask')
    expect(await hidden.first().isVisible()).toBe(false)
    await page.getByText('2 more').click()
    expect(await hidden.first().isVisible()).toBe(true)
    await page.getByText('Where the mask cuts, 3 pictures').click()
    expect(await page.locator('.crossings .picture:visible').count()).toBe(3)
    await page.getByText('Asked and assumed, and where the region lies').click()
    expect(await page.getByText('hide what is in the region').isVisible()).toBe(true)
    expect(await page.locator('.camera-path').isVisible()).toBe(true)
  })
})

inChromium('the evidence', ({ sheet, open }) => {
  test('has the heads of its table on one line, those that sort and those that do not', async () => {
    const { page } = await open(await sheet('heads', quaysideResult({ candidates: 3, frames: 3 })), {
      viewport: { width: 1400, height: 900 },
    })
    const bottoms = await page.locator('#overview thead th').evaluateAll((heads) =>
      heads.map((head) => {
        const range = document.createRange()
        range.selectNodeContents(head.querySelector('button') ?? head)
        return range.getBoundingClientRect().bottom
      }),
    )
    expect(bottoms.length).toBeGreaterThan(10)
    expect(Math.max(...bottoms) - Math.min(...bottoms)).toBeLessThan(1.5)
  })

  test('names the lines of a plot above it, where no line crosses the names', async () => {
    const { page } = await open(await sheet('plots', quaysideResult({ candidates: 1, frames: 8 })))
    const plot = page.locator('.plot', { hasText: '2D offset' }).first()
    expect(await plot.locator('figcaption').textContent()).toBe('2D offset, px: dx solid, dy dashed')
    expect(await plot.locator('svg text').allTextContents()).not.toContain('dx')
    const dashes = await plot
      .locator('.plot-line')
      .evaluateAll((lines) => lines.map((line) => getComputedStyle(line).strokeDasharray))
    expect(dashes[0]).toBe('none')
    expect(dashes[1]).not.toBe('none')
  })
})

inChromium('nothing overlaps, is cut off or leaves the window', ({ sheet, open }) => {
  test.each([
    [360, 780],
    [390, 844],
    [820, 1100],
    [1280, 800],
    [1920, 1080],
    [3840, 2160],
  ])('on the page at %i x %i', async (width, height) => {
    const { page } = await open(await sheet('layout', result), { viewport: { width, height } })
    // What sticks to the top lies over what passes under it on purpose, and is looked at where it stands.
    for (const summary of await page.locator('summary').all()) await summary.click()
    await page.locator('.row').first().getByRole('button', { name: 'Accept' }).click()
    await page.evaluate(() => scrollTo({ top: 0, behavior: 'instant' }))
    expect(await faults(page, 'body')).toEqual([])
    await page.locator('.row').first().getByRole('button', { name: 'Accept' }).click()
    await page.evaluate(() => document.getElementById('save')!.click())
  })

  test.each([
    [390, 844],
    [820, 1100],
    [1280, 800],
    [3840, 2160],
  ])('looking closer at %i x %i', async (width, height) => {
    const { page } = await open(await sheet('layout', result), { viewport: { width, height } })
    await lookCloser(page, 2)
    await page.getByRole('button', { name: 'Wipe', exact: true }).click()
    expect(await faults(page, 'dialog.closer')).toEqual([])
    const canvas = (await page.locator('.stage canvas').boundingBox())!
    expect(Math.min(canvas.width, canvas.height)).toBeGreaterThan(150)
  })

  test.each([
    [390, 844],
    [1280, 800],
    [3840, 2160],
  ])('on the page of a borrow at %i x %i', async (width, height) => {
    const { page } = await open(await sheet('layout-heron', heronResult()), { viewport: { width, height } })
    expect(await faults(page, 'body')).toEqual([])
  })

  test('the headline of a borrow has the whole width, as no matrix stands beside it', async () => {
    const { matrix: _, ...heron } = heronResult()
    const { page } = await open(await sheet('layout-unmatched', heron), {
      viewport: { width: 1280, height: 800 },
    })
    const { width } = (await page.locator('.top .said').boundingBox())!
    expect(width).toBeGreaterThan(1000)
  })

  test('one warning is set off from the next', async () => {
    const { page } = await open(await sheet('layout', result), { viewport: { width: 1280, height: 800 } })
    for (const summary of await page.locator('.warnings summary').all()) await summary.click()
    const boxes = await Promise.all((await page.locator('.warnings li').all()).map((li) => li.boundingBox()))
    expect(boxes).toHaveLength(2)
    expect(boxes[1]!.y - (boxes[0]!.y + boxes[0]!.height)).toBeGreaterThan(4)
  })

  test('without scripts at 390 x 844', async () => {
    const { page } = await open(await sheet('layout', result), {
      viewport: { width: 390, height: 844 },
      javaScriptEnabled: false,
    })
    expect(await faults(page, 'body')).toEqual([])
  })

  test('and this would notice: two words moved over each other, and one out of the window', async () => {
    const { page } = await open(await sheet('layout', result))
    await page.evaluate(() => {
      const [first, second] = document.querySelectorAll<HTMLElement>('.row-verdict > *')
      second.style.marginLeft = '-4em'
      document.querySelector<HTMLElement>('.why')!.style.marginLeft = '-3em'
      void first
    })
    const found = (await faults(page, 'body')).join('\n')
    expect(found).toContain('over each other')
    expect(found).toContain('beyond the window')
  })
})

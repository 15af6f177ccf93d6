// The page over several shots, opened from disk without a network.
import { cp, mkdir } from 'node:fs/promises'
import { dirname, join } from 'node:path'
import { expect, test } from 'vitest'
import type { Result } from '../../src/search/result.js'
import { writeResultFile } from '../../src/search/write-result.js'
import { writeShots } from '../../src/sheet/shots/write-shots.js'
import { heronResult, quaysideResult, withCuts } from '../sheet/quayside.js'
import { inChromium } from './chromium.js'
import { violations } from './violations.js'

inChromium('the page over several shots', ({ sheet, open, folder }) => {
  let made: Promise<string> | undefined
  const index = () => {
    made ??= write()
    return made
  }
  const write = async () => {
    const shots: Record<string, Result> = {
      'sh010 porter': withCuts(quaysideResult({ candidates: 4, frames: 2 })),
      'sh020/heron': heronResult(),
      sh030: quaysideResult({ candidates: 0, plate: `quayside/${'a-very-long-name_'.repeat(8)}.####.exr` }),
    }
    const specs: string[] = []
    for (const [name, result] of Object.entries(shots)) {
      const to = join(folder(), 'shots', name)
      await mkdir(to, { recursive: true })
      await cp(dirname(await sheet(`of-${name.replace('/', '-')}`, result)), to, { recursive: true })
      await writeResultFile(to, result)
      specs.push(to)
    }
    return writeShots(specs)
  }

  test.each([390, 1280, 3840])(
    'has nothing that axe finds fault with, and fits, %i px wide',
    async (width) => {
      const { page } = await open(await index(), { viewport: { width, height: 900 } })
      for (const summary of await page.locator('summary').all()) await summary.click()
      expect(await violations(page)).toEqual([])
      const beyond = await page.evaluate(() => document.documentElement.scrollWidth - innerWidth)
      expect(beyond).toBeLessThanOrEqual(0)
    },
  )

  test('shows each first picture on the first screen, and leads to each sheet by key', async () => {
    const { page } = await open(await index())
    const pictures = await page.evaluate(() =>
      Promise.all(
        [...document.querySelectorAll<SVGImageElement>('.shot image')].map(async (each) => {
          const image = new Image()
          image.src = each.href.baseVal
          await image.decode()
          return { bottom: each.getBoundingClientRect().bottom, width: image.naturalWidth }
        }),
      ),
    )
    expect(pictures).toHaveLength(2)
    for (const { bottom, width } of pictures) {
      expect(width).toBeGreaterThan(100)
      expect(bottom).toBeLessThan(800)
    }
    expect(await page.locator('h1').textContent()).toBe('3 shots')
    expect(await page.locator('.shots-head p').textContent()).toMatch(
      /^2 hold up, 1 has no candidate; 0 of 3 with an accepted candidate$/,
    )
    await page.getByRole('link', { name: 'sh020/heron', exact: true }).focus()
    await page.evaluate(() => {
      document.addEventListener('click', (event) => {
        event.preventDefault()
        document.title = (event.target as Element).closest('a')!.getAttribute('href')!
      })
    })
    await page.keyboard.press('Enter')
    expect(await page.title()).toBe('sh020/heron/sheet.html')
  })

  test('is black on white on paper', async () => {
    const { page } = await open(await index())
    await page.emulateMedia({ media: 'print' })
    expect(await page.evaluate(() => getComputedStyle(document.body).backgroundColor)).toBe(
      'rgb(255, 255, 255)',
    )
    expect(await page.locator('.shot:visible').count()).toBe(3)
    expect(await page.locator('h1').isVisible()).toBe(true)
  })
})

import { expect, test } from 'vitest'
import { heronResult, quaysideResult, withCamera, withCuts } from '../sheet/quayside.js'
import { inChromium } from './chromium.js'
import { drawn, lookCloser } from './closer-page.js'
import { violations } from './violations.js'

const result = withCamera(withCuts(quaysideResult({ candidates: 5, frames: 3 })))

inChromium('axe finds nothing to say against', ({ sheet, open }) => {
  test.each([390, 1280, 3840])('the page, %i px wide', async (width) => {
    const { page } = await open(await sheet('axe', result), { viewport: { width, height: 900 } })
    for (const summary of await page.locator('summary').all()) await summary.click()
    expect(await violations(page)).toEqual([])
  })

  test.each([390, 1280])('looking closer, %i px wide, in every view, and its keys', async (width) => {
    const { page } = await open(await sheet('axe', result), { viewport: { width, height: 900 } })
    await lookCloser(page, 1)
    for (const view of ['Wipe', 'Difference']) {
      await page.getByRole('button', { name: view, exact: true }).click()
      await drawn(page)
      expect(await violations(page)).toEqual([])
    }
    await page.keyboard.press('?')
    expect(await violations(page)).toEqual([])
  })

  test('the sheet of a borrow', async () => {
    const { page } = await open(await sheet('axe-heron', heronResult()))
    expect(await violations(page)).toEqual([])
  })

  test('a search without candidates', async () => {
    const { page } = await open(await sheet('axe-none', quaysideResult({ candidates: 0 })))
    expect(await violations(page)).toEqual([])
  })

  test('and would: a picture without words is found', async () => {
    const { page } = await open(await sheet('axe', result))
    await page.evaluate(() => document.querySelector('.row .picture')!.removeAttribute('aria-label'))
    expect((await violations(page)).join()).toContain('svg-img-alt')
  })
})

inChromium('what a screen reader hears', ({ sheet, open }) => {
  test('headings go down without a step left out, one h1', async () => {
    const { page } = await open(await sheet('axe', result))
    const levels = await page
      .locator('h1:visible, h2:visible, h3:visible')
      .evaluateAll((all) => all.map((h) => Number(h.tagName[1])))
    expect(levels.filter((level) => level === 1)).toHaveLength(1)
    for (let i = 1; i < levels.length; i++) expect(levels[i] - levels[i - 1]).toBeLessThanOrEqual(1)
  })

  test('every picture states its finding', async () => {
    const { page } = await open(await sheet('axe', result))
    const row = page.locator('.row').nth(4)
    const spoken = await row.locator('[data-view="repaired"] .picture').getAttribute('aria-label')
    expect(spoken).toMatch(/^Repaired on frame \d+: needs work, seam 1\.9\d$/)
    const plot = await row.locator('.plot svg').nth(2).getAttribute('aria-label')
    expect(plot).toMatch(/^seam from 1\.\d\d on \d{4} to 1\.\d\d on \d{4}, over frames 1060 to 1062$/)
    const bar = await row
      .locator('.numbers tr', { hasText: 'seam' })
      .locator('.bar')
      .getAttribute('aria-label')
    expect(bar).toBe('1.90, needs work')
  })

  test('tables have heads for rows and columns', async () => {
    const { page } = await open(await sheet('axe', result))
    const heads = await page.locator('table').evaluateAll((tables) =>
      tables.map((table) => {
        const columns = table.querySelectorAll('thead th[scope="col"]').length
        const rows = [...table.querySelectorAll('tbody tr')]
        return columns > 0 && rows.every((row) => row.querySelectorAll('th[scope="row"]').length === 1)
      }),
    )
    expect(heads).toHaveLength(2 * 5 + 1)
    expect(heads).not.toContain(false)
  })
})

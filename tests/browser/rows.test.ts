import type { Page } from 'playwright-core'
import { expect, test } from 'vitest'
import { inWords } from '../../src/sheet/data/words.js'
import { quaysideResult } from '../sheet/quayside.js'
import { inChromium } from './chromium.js'

const result = quaysideResult({ candidates: 10, frames: 2 })
// Two numbers out of order, so that sorting has something to do; one absent.
result.candidates[7].seam = 0.5
result.candidates[2].seam = null
result.candidates[4].donor = 1

const shownIds = (page: Page) =>
  page.evaluate(() =>
    [...document.querySelectorAll<HTMLElement>('.row:not([hidden])')].map(
      (row) => row.querySelector('code')!.textContent,
    ),
  )

inChromium('the candidates', ({ sheet, open }) => {
  test('come best first, and by seam with the least first and the absent last', async () => {
    const { page } = await open(await sheet('rows', result))
    const ids = result.candidates.map((c) => c.id)
    expect(await shownIds(page)).toEqual(ids)
    await page.selectOption('#sort', 'seam')
    const bySeam = await shownIds(page)
    expect(bySeam[0]).toBe(ids[7])
    expect(bySeam[9]).toBe(ids[2])
    expect(bySeam.slice(1, 3)).toEqual([ids[0], ids[1]])
  })

  test('come by what may be lost with the least first, and the heading never says best first over the worst', async () => {
    const { page } = await open(await sheet('rows', result))
    const ids = result.candidates.map((c) => c.id)
    const heading = page.locator('#candidates-name')
    expect(await heading.textContent()).toBe('Candidates, best first')
    await page.selectOption('#sort', 'shortfall')
    expect(await shownIds(page)).toEqual(ids)
    expect(await heading.textContent()).toBe('Candidates, by shortfall, best first')
    await page.locator('#overview th[data-sort="shortfall"]').getByRole('button').click()
    expect(await shownIds(page)).toEqual([...ids].reverse())
    expect(await heading.textContent()).toBe('Candidates, by shortfall, worst first')
    expect(await page.locator('#shown-count').textContent()).toBe('10 of 10 shown, by shortfall, worst first')
  })

  test('are sorted from the heads of the table too, there and back, and the head says which way its numbers go', async () => {
    const { page } = await open(await sheet('rows', result))
    for (const [key, forwards, back] of [
      ['ncc', 'descending', 'ascending'],
      ['shortfall', 'ascending', 'descending'],
      // The best lie in the middle, at 1.
      ['sharpness', 'other', 'other'],
    ]) {
      const head = page.locator(`#overview th[data-sort="${key}"]`)
      await head.getByRole('button').click()
      expect(await head.getAttribute('aria-sort')).toBe(forwards)
      await head.getByRole('button').click()
      expect(await head.getAttribute('aria-sort')).toBe(back)
    }
    const head = page.locator('#overview th[data-sort="sharpness"]')
    await head.getByRole('button').click()
    const best = await shownIds(page)
    expect(best[0]).toBe(result.candidates[0].id)
    await head.getByRole('button').click()
    expect(await shownIds(page)).toEqual([...best].reverse())
    expect(await page.locator('#overview tbody tr').first().locator('code').textContent()).toBe(best[9])
  })

  test('are called in words, and the id that patch picks each by stands with it once in its row and in the table', async () => {
    const { page } = await open(await sheet('rows', result))
    for (const [i, candidate] of result.candidates.entries()) {
      const row = page.locator('.row').nth(i)
      expect(await row.locator('h3').textContent()).toContain(inWords(candidate))
      expect(await row.locator('.row-verdict').textContent()).toContain(`--pick ${candidate.id}`)
      const line = page.locator('#overview tbody tr').nth(i)
      expect((await line.locator('a').textContent())!.toLowerCase()).toBe(inWords(candidate).toLowerCase())
      expect(await line.locator('code').textContent()).toBe(candidate.id)
      for (const named of await row.locator('[aria-label]').all()) {
        expect(await named.getAttribute('aria-label')).not.toContain(candidate.id)
      }
    }
    await page.locator('.row').first().getByText('1 near-equal').click()
    expect(await page.locator('.row').first().locator('.folded li').textContent()).toMatch(
      /^Frame 1102 held, score 99\.0, --pick hold-1102$/,
    )
  })

  test('are filtered by kind, verdict and donor plate, and the count says how many are left', async () => {
    const { page } = await open(await sheet('rows', result))
    await page.getByRole('checkbox', { name: 'hold', exact: true }).uncheck()
    expect(await shownIds(page)).toEqual(result.candidates.filter((c) => c.kind !== 'hold').map((c) => c.id))
    await page.getByRole('checkbox', { name: 'holds up' }).uncheck()
    const left = result.candidates.filter((c) => c.kind !== 'hold' && c.verdict !== 'holds up')
    expect(await shownIds(page)).toEqual(left.map((c) => c.id))
    expect(await page.locator('#shown-count').textContent()).toBe(`${left.length} of 10 shown`)
    await page.selectOption('#donor', '1')
    expect(await shownIds(page)).toEqual([result.candidates[4].id])
    await page.getByRole('checkbox', { name: 'needs work' }).uncheck()
    expect(await page.getByText('No candidate of these kinds and verdicts.').isVisible()).toBe(true)
  })

  test('that a filter hides can not be jumped to from the matrix, which says so', async () => {
    const { page } = await open(await sheet('rows', result))
    await page.getByRole('checkbox', { name: 'hold', exact: true }).uncheck()
    await page.getByRole('link', { name: '1: hold' }).focus()
    await page.keyboard.press('Enter')
    expect(await page.locator('#matrix-readout').textContent()).toContain(
      'hidden by the kinds and verdicts chosen',
    )
  })
})

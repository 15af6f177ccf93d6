import type { Page } from 'playwright-core'
import { expect, test } from 'vitest'
import { inWords } from '../../src/sheet/data/words.js'
import { quaysideResult } from '../sheet/quayside.js'
import { inChromium } from './chromium.js'
import { drawn, lookCloser } from './closer-page.js'

const result = quaysideResult({ candidates: 5, frames: 4 })
const ids = result.candidates.map((c) => c.id)
/** As the page calls them. */
const names = result.candidates.map((c, i) => `${i + 1}, ${inWords(c)}`)

/** What is decided, as the rows' buttons show it: candidate and decision. */
const signed = (page: Page) =>
  page.evaluate(() =>
    [...document.querySelectorAll<HTMLElement>('.row[data-decision]')].map(
      (row) => `${row.querySelector('code')!.textContent} ${row.dataset.decision}`,
    ),
  )

/** The candidate that looking closer names. */
const named = (page: Page) => page.locator('.viewer-head code').textContent()
const confirmed = (page: Page) => page.locator('.closer [role="status"]').textContent()
const playing = async (page: Page) => (await page.locator('.play').textContent()) === 'Stop'
const inFocus = (page: Page) => page.evaluate(() => document.activeElement!.id)

inChromium('looking closer, what is signed is what is seen', ({ sheet, open }) => {
  test.each([0, 2, 4])(
    'Space plays from the first moment on, and A signs the candidate opened (%i)',
    async (i) => {
      const { page } = await open(await sheet('signing', result))
      await lookCloser(page, i)
      expect(await named(page)).toBe(ids[i])
      await page.keyboard.press('Space')
      expect(await playing(page)).toBe(true)
      await page.keyboard.press('Space')
      expect(await playing(page)).toBe(false)
      expect(await named(page)).toBe(ids[i])
      await page.keyboard.press('a')
      expect(await confirmed(page)).toMatch(new RegExp(`^${names[i]}: Accepted on `))
      expect(await signed(page)).toEqual([`${ids[i]} accept`])
    },
  )

  test('whichever control is in focus, Space changes neither the candidate nor a decision', async () => {
    const { page } = await open(await sheet('signing', result))
    await lookCloser(page, 2)
    await page.keyboard.press('r')
    const buttons = page.locator('.closer button:not(:disabled)')
    const count = await buttons.count()
    expect(count).toBeGreaterThan(12)
    for (let i = 0; i < count; i++) {
      await buttons.nth(i).focus()
      const before = await playing(page)
      await page.keyboard.press('Space')
      expect(await playing(page)).toBe(!before)
      expect(await named(page)).toBe(ids[2])
      expect(await signed(page)).toEqual([`${ids[2]} reject`])
    }
    expect(await page.locator('.closer .help').count()).toBe(0)
  })

  test('a button pressed by Enter does what it says', async () => {
    const { page } = await open(await sheet('signing', result))
    await lookCloser(page, 2)
    await page.getByRole('dialog').getByRole('button', { name: 'Accept' }).focus()
    await page.keyboard.press('Enter')
    expect(await signed(page)).toEqual([`${ids[2]} accept`])
    await page.getByRole('button', { name: 'Next' }).focus()
    await page.keyboard.press('Enter')
    await page.keyboard.press('Enter')
    expect(await named(page)).toBe(ids[4])
    // The last one: Next can't be pressed any more, and the keys still work.
    await page.keyboard.press('l')
    expect(await signed(page)).toEqual([`${ids[2]} accept`, `${ids[4]} later`])
  })

  test.each(['Next', 'Previous', 'Accept', 'Flip'])('after a click on %s, Space plays', async (name) => {
    const { page } = await open(await sheet('signing', result))
    await lookCloser(page, 2)
    await page.getByRole('dialog').getByRole('button', { name, exact: true }).click()
    const now = await named(page)
    const decided = await signed(page)
    await page.keyboard.press('Space')
    expect(await playing(page)).toBe(true)
    expect(await named(page)).toBe(now)
    expect(await signed(page)).toEqual(decided)
  })

  test('a key held down signs once: it does not take back what it signed', async () => {
    const { page } = await open(await sheet('signing', result))
    await lookCloser(page, 1)
    for (let i = 0; i < 4; i++) await page.keyboard.down('a')
    await page.keyboard.up('a')
    expect(await signed(page)).toEqual([`${ids[1]} accept`])
    await page.keyboard.press('Escape')
    for (let i = 0; i < 4; i++) await page.keyboard.down('r')
    await page.keyboard.up('r')
    expect(await signed(page)).toEqual([`${ids[1]} reject`])
  })

  test('says what stands for the candidate shown, also when it is taken back and on the next one', async () => {
    const { page } = await open(await sheet('signing', result))
    await lookCloser(page, 1)
    expect(await confirmed(page)).toBe(`${names[1]}: open`)
    await page.keyboard.press('r')
    expect(await confirmed(page)).toMatch(/: Rejected on \d{4}-\d\d-\d\d$/)
    expect(await page.locator('.closer [role="status"]').isVisible()).toBe(true)
    await page.keyboard.press('j')
    expect(await confirmed(page)).toBe(`${names[2]}: open`)
    await page.keyboard.press('k')
    await page.keyboard.press('r')
    expect(await confirmed(page)).toBe(`${names[1]}: open`)
    expect(await signed(page)).toEqual([])
  })

  test('no picture of one candidate stands under the name of another while that is being decoded', async () => {
    const { page } = await open(await sheet('signing', result))
    await lookCloser(page, 0)
    const shown = () =>
      page.evaluate(() => getComputedStyle(document.querySelector('.stage canvas')!).visibility)
    expect(await shown()).toBe('visible')
    await page.evaluate(() => {
      const decode = window.createImageBitmap.bind(window)
      const gate = new Promise<void>((go) => Object.assign(window, { go }))
      window.createImageBitmap = (async (blob: Blob) => {
        await gate
        return decode(blob)
      }) as typeof window.createImageBitmap
    })
    await page.keyboard.press('j')
    await drawn(page)
    expect(await named(page)).toBe(ids[1])
    expect(await shown()).toBe('hidden')
    await page.evaluate(() => (window as unknown as { go: () => void }).go())
    await page.waitForFunction(
      () => getComputedStyle(document.querySelector('.stage canvas')!).visibility === 'visible',
    )
    // Back to one that is decoded: at once, so that two can be compared in turn without a gap.
    const gaps = await page.evaluate(async () => {
      const canvas = document.querySelector<HTMLElement>('.stage canvas')!
      let hidden = 0
      const watch = () => {
        if (getComputedStyle(canvas).visibility === 'hidden') hidden++
      }
      new MutationObserver(watch).observe(document.querySelector('.stage')!, {
        attributes: true,
        subtree: true,
      })
      document
        .querySelector('.stage')!
        .dispatchEvent(new KeyboardEvent('keydown', { key: 'k', bubbles: true, cancelable: true }))
      for (let i = 0; i < 5; i++) {
        await new Promise(requestAnimationFrame)
        watch()
      }
      return hidden
    })
    expect(await named(page)).toBe(ids[0])
    expect(gaps).toBe(0)
  })

  test('with its list of keys open letters sign nothing, Escape closes the list alone, and the keys work again', async () => {
    const { page } = await open(await sheet('signing', result))
    await lookCloser(page, 1)
    for (const key of ['?', 'Escape']) {
      await page.keyboard.press('?')
      for (const letter of ['a', 'l', 'r', 'j', 'Space']) {
        if (letter !== 'Space') await page.keyboard.press(letter)
      }
      expect(await named(page)).toBe(ids[1])
      expect(await signed(page)).toEqual([])
      await page.keyboard.press(key)
      expect(await page.locator('.closer .help').count()).toBe(0)
      expect(await page.locator('dialog.closer[open]').count()).toBe(1)
    }
    // Where the focus is elsewhere, too.
    await page.keyboard.press('?')
    await page.locator('.stage').focus()
    await page.keyboard.press('a')
    await page.keyboard.press('Escape')
    expect(await page.locator('dialog.closer[open]').count()).toBe(1)
    expect(await signed(page)).toEqual([])
    await page.keyboard.press('j')
    await page.keyboard.press('a')
    expect(await signed(page)).toEqual([`${ids[2]} accept`])
  })

  test('a note being written takes every letter, and stays with its candidate when Escape goes back', async () => {
    const { page } = await open(await sheet('signing', result))
    await lookCloser(page, 1)
    await page.keyboard.press('n')
    await page.keyboard.type('a large jar')
    await page.keyboard.press('Escape')
    expect(await signed(page)).toEqual([])
    expect(await page.locator('.row').nth(1).getByLabel('Note on 2').inputValue()).toBe('a large jar')
    expect(await page.locator('.row').nth(0).getByLabel('Note on 1').inputValue()).toBe('')
  })

  test('after sorting and filtering J goes on in the order on the page, and A signs the one shown', async () => {
    const { page } = await open(await sheet('signing', result))
    await page.locator('#overview th[data-sort="seam"]').getByRole('button').click()
    await page.locator('#overview th[data-sort="seam"]').getByRole('button').click()
    await page.getByRole('checkbox', { name: 'mirror', exact: true }).uncheck()
    const order = await page.evaluate(() =>
      [...document.querySelectorAll('.row:not([hidden]) .row-verdict code')].map((code) => code.textContent),
    )
    expect(order).toEqual([ids[4], ids[3], ids[1], ids[0]])
    await lookCloser(page, 1)
    expect(await named(page)).toBe(order[1])
    await page.keyboard.press('j')
    expect(await named(page)).toBe(order[2])
    await page.keyboard.press('a')
    expect(await signed(page)).toEqual([`${order[2]} accept`])
  })
})

inChromium('among the candidates, what is signed is what is seen', ({ sheet, open }) => {
  const told = (page: Page) => page.locator('#told').textContent()

  test('A signs the row in focus and says which', async () => {
    const { page } = await open(await sheet('signing', result))
    await page.keyboard.press('j')
    await page.keyboard.press('j')
    await page.keyboard.press('a')
    expect(await signed(page)).toEqual([`${ids[1]} accept`])
    expect(await told(page)).toMatch(new RegExp(`^${names[1]}: Accepted on `))
    expect(await page.locator('#told').isVisible()).toBe(true)
    await page.keyboard.press('a')
    expect(await signed(page)).toEqual([])
    expect(await told(page)).toBe(`${names[1]}: open`)
  })

  test('a row that was scrolled away is brought back instead of being signed unseen', async () => {
    const { page } = await open(await sheet('signing', result))
    await page.keyboard.press('j')
    await page
      .locator('.row')
      .nth(3)
      .evaluate((row) => row.scrollIntoView({ block: 'center', behavior: 'instant' }))
    for (const key of ['a', 'l', 'r']) {
      await page.evaluate(() => scrollTo({ top: document.body.scrollHeight, behavior: 'instant' }))
      await page.keyboard.press(key)
      expect(await signed(page)).toEqual([])
      expect(await told(page)).toBe(`${names[0]}, is the row in focus: nothing is decided yet, press again`)
      await page.waitForFunction(() => {
        const { top, bottom } = document.querySelector('.row')!.getBoundingClientRect()
        return top < innerHeight / 2 && bottom > innerHeight / 2
      })
    }
    await page.keyboard.press('r')
    expect(await signed(page)).toEqual([`${ids[0]} reject`])
  })

  test.each([800, 2400])('every row that J goes to can be signed at once, %i px high', async (height) => {
    const { page } = await open(await sheet('signing', result), { viewport: { width: 1280, height } })
    for (const [i, id] of ids.entries()) {
      await page.keyboard.press('j')
      expect(await inFocus(page)).toBe(`way-${id.replace('+', 'plus')}`)
      await page.keyboard.press('l')
      expect(await signed(page)).toEqual(ids.slice(0, i + 1).map((each) => `${each} later`))
    }
  })

  test('after a click on Accept, Space scrolls on and takes nothing back', async () => {
    const { page } = await open(await sheet('signing', result))
    await page.locator('.row').nth(1).getByRole('button', { name: 'Accept' }).click()
    await page.keyboard.press('Space')
    expect(await signed(page)).toEqual([`${ids[1]} accept`])
  })

  test('with a control in focus that belongs to no candidate, letters sign nothing', async () => {
    const { page } = await open(await sheet('signing', result))
    for (const selector of [
      '#sort',
      '#save',
      '#initials',
      '.ticks input',
      '#overview thead button',
      '#matrix-frame',
    ]) {
      await page.locator(selector).first().focus()
      for (const key of ['a', 'l', 'r', 'Control+a', 'Alt+r']) await page.keyboard.press(key)
      expect(await signed(page), selector).toEqual([])
    }
  })

  test('after sorting and filtering J starts at the first row on the page', async () => {
    const { page } = await open(await sheet('signing', result))
    await page.keyboard.press('j')
    await page.locator('#overview th[data-sort="seam"]').getByRole('button').click()
    await page.locator('#overview th[data-sort="seam"]').getByRole('button').click()
    await page.getByRole('checkbox', { name: 'stack', exact: true }).uncheck()
    await page.keyboard.press('j')
    await page.keyboard.press('a')
    expect(await signed(page)).toEqual([`${ids[3]} accept`])
  })

  test('with the list of keys open, or letters turned off, letters sign nothing', async () => {
    const { page } = await open(await sheet('signing', result))
    await page.keyboard.press('j')
    await page.keyboard.press('?')
    for (const key of ['a', 'l', 'r']) await page.keyboard.press(key)
    expect(await signed(page)).toEqual([])
    await page.getByLabel('Letters and figures work as keys').uncheck()
    await page.keyboard.press('Escape')
    for (const key of ['a', 'l', 'r']) await page.keyboard.press(key)
    expect(await signed(page)).toEqual([])
    await page.keyboard.press('Enter')
    await drawn(page)
    for (const key of ['a', 'l', 'r', 'j']) await page.keyboard.press(key)
    expect(await signed(page)).toEqual([])
    expect(await named(page)).toBe(ids[0])
  })
})

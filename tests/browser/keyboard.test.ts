import { readFile } from 'node:fs/promises'
import type { Page } from 'playwright-core'
import { expect, test } from 'vitest'
import { parseDecisions } from '../../src/sheet/data/decisions.js'
import { LOOK_KEYS } from '../../src/sheet/page/viewer/keys.js'
import { quaysideResult } from '../sheet/quayside.js'
import { inChromium } from './chromium.js'
import { drawn } from './closer-page.js'

const result = quaysideResult({ candidates: 3, frames: 5 })

/** Presses Tab until the element in focus matches, as somebody without a mouse has to. */
async function tabTo(page: Page, selector: string, most = 60): Promise<void> {
  for (let i = 0; i < most; i++) {
    await page.keyboard.press('Tab')
    if (await page.evaluate((wanted) => document.activeElement!.matches(wanted), selector)) return
  }
  throw new Error(`${selector} can't be reached by ${most} times Tab`)
}

/** All that a key may change: what the dialog says, where its controls stand, what is pressed. */
const state = (page: Page) =>
  page.evaluate(() => {
    const dialog = document.querySelector('dialog.closer')!
    const controls = [...dialog.querySelectorAll('input, select, button')].map((each) =>
      [
        (each as HTMLInputElement).value,
        (each as HTMLInputElement).checked,
        each.getAttribute('aria-pressed'),
      ].join(),
    )
    const { x, y, width } = dialog.querySelector('canvas')?.getBoundingClientRect() ?? {}
    return [
      dialog.hasAttribute('open'),
      dialog.textContent,
      [x, y, width].join(),
      document.activeElement?.id,
      ...controls,
    ].join('|')
  })

inChromium('by keyboard alone', ({ sheet, open }) => {
  test('the whole way: to a candidate, closer, through its frames, a note, a decision, the next, back, save', async () => {
    const { page } = await open(await sheet('keys', result))
    await page.keyboard.press('j')
    await page.keyboard.press('j')
    expect(await page.evaluate(() => document.activeElement!.id)).toBe(
      `way-${result.candidates[1].id.replace('+', 'plus')}`,
    )
    await page.keyboard.press('Enter')
    await drawn(page)
    await page.keyboard.press('Home')
    await page.keyboard.press('ArrowRight')
    await page.keyboard.press('ArrowRight')
    expect(await page.locator('#closer-target').textContent()).toBe('1062')
    await page.keyboard.press('n')
    await page.keyboard.type('jar over the joint')
    await page.keyboard.press('Enter')
    await page.keyboard.press('a')
    await page.keyboard.press('j')
    await page.keyboard.press('r')
    await page.keyboard.press('Escape')
    expect(await page.locator('#tally').textContent()).toBe('1 accepted, 1 rejected, 1 open')
    await page.keyboard.press('k')
    await page.keyboard.press('k')
    await page.keyboard.press('l')
    expect(await page.locator('#tally').textContent()).toBe('1 accepted, 1 for later, 1 rejected')
    await page.evaluate(() => (document.activeElement as HTMLElement).blur())
    await tabTo(page, '#save')
    const [download] = await Promise.all([page.waitForEvent('download'), page.keyboard.press('Enter')])
    const { decisions } = parseDecisions(await readFile((await download.path())!, 'utf8'))
    expect(decisions.map((d) => [d.decision, d.note])).toEqual([
      ['later', ''],
      ['accept', 'jar over the joint'],
      ['reject', ''],
    ])
  })

  test('whatever is in focus shows it', async () => {
    const { page } = await open(await sheet('keys', result))
    for (let i = 0; i < 40; i++) {
      await page.keyboard.press('Tab')
      const shown = await page.evaluate(() => {
        const element = document.activeElement!
        // A line of the matrix shows its focus by its width.
        const style = getComputedStyle(element.tagName === 'a' ? element.querySelector('.line')! : element)
        return (
          element === document.body ||
          style.outlineStyle !== 'none' ||
          Number.parseFloat(style.strokeWidth) >= 4
        )
      })
      expect(shown, await page.evaluate(() => document.activeElement!.outerHTML.slice(0, 200))).toBe(true)
    }
  })

  test('the list of keys on ? is complete, and closes again to where one was', async () => {
    const { page } = await open(await sheet('keys', result))
    await page.keyboard.press('j')
    await page.keyboard.press('?')
    const listed = await page.locator('dialog[open] .help dt').allTextContents()
    expect(listed).toEqual(expect.arrayContaining(LOOK_KEYS.map((key) => key.shown)))
    await page.keyboard.press('Escape')
    expect(await page.locator('dialog[open]').count()).toBe(0)
    expect(await page.evaluate(() => document.activeElement!.classList.contains('row'))).toBe(true)
  })

  test('looking closer, every key of the list does something', async () => {
    const { page } = await open(await sheet('keys', result))
    const idle: string[] = []
    for (const key of LOOK_KEYS) {
      if ((await page.locator('dialog.closer[open]').count()) === 0) {
        await page.locator('.row').nth(1).focus()
        await page.keyboard.press('Enter')
        await drawn(page)
      }
      await page.locator('.stage').focus()
      // A state from which every key has somewhere to go.
      const view = key.keys[0] === '2' ? '1' : '2'
      for (const first of ['Home', 'ArrowRight', view, '0', '+', '+', 'b', '+', '+', 'e', 'd', 'D', 'D']) {
        await page.keyboard.press(first)
      }
      if (key.keys[0] === 'x') await page.keyboard.press('c')
      await drawn(page)
      const before = await state(page)
      await page.keyboard.press((key.shift ? 'Shift+' : '') + (key.keys[0] === ' ' ? 'Space' : key.keys[0]))
      await page.waitForTimeout(60)
      if ((await state(page)) === before) idle.push(key.shown)
      // Back again: no longer playing, nothing decided, on the middle candidate.
      if (key.keys[0] === ' ' || key.choose)
        await page.keyboard.press(key.keys[0] === ' ' ? 'Space' : key.keys[0])
      if (key.keys[0] === 'x') await page.keyboard.press('x')
      if (key.keys[0] === 'c' || key.keys[0] === 'x') await page.keyboard.press('c')
      if (key.keys[0] === 'v') await page.keyboard.press('v')
      if (key.keys[0] === 'j') await page.keyboard.press('k')
      if (key.keys[0] === 'k') await page.keyboard.press('j')
    }
    expect(idle).toEqual([])
  })

  test('single letters can be turned off, and then do nothing (WCAG 2.2, 2.1.4)', async () => {
    const { page } = await open(await sheet('keys', result))
    await page.keyboard.press('?')
    await page.getByLabel('Letters and figures work as keys').uncheck()
    await page.keyboard.press('Escape')
    await page.keyboard.press('j')
    expect(await page.evaluate(() => document.activeElement!.closest('.row'))).toBe(null)
  })
})

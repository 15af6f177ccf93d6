// The desk by mouse and by keyboard alone, from an empty start to a written patch. Truth: the command that the page shows, run
// in a shell, whose frames must be the same bytes.
import { readFileSync } from 'node:fs'
import { join } from 'node:path'
import type { Page } from 'playwright-core'
import { expect, test } from 'vitest'
import {
  type DeskBench,
  drag,
  expectSameFrames,
  inDesk,
  onScreen,
  onStrip,
  tabTo,
  typedByHand,
  violationsCloser,
  WHO,
} from './desk-page.js'

const SEARCH_MS = 60_000

/** The commands of the shot's only search and patch, typed by hand, write the same. */
async function expectSameByHand(page: Page, { folder, desk }: DeskBench): Promise<void> {
  const patched = page.locator('.written > li').first()
  const patch = (await patched.locator('pre').textContent())!
  const written = (await patched.locator('b').textContent())!
  await page.getByRole('button', { name: 'Choose' }).click()
  const find = (await page.getByLabel('The command of this search').locator('pre').textContent())!
  typedByHand(folder(), [find, patch], [['desk/quay/search-1', 'by-hand/search-1']])
  const below = written.replace('search-1/', '')
  expectSameFrames(join(desk().out, 'quay', written), join(folder(), 'by-hand', 'search-1', below), 3)
}

/** What a file of the shot warns of stands on the page, of more than three the first two open. */
async function expectWarned(page: Page, { desk }: DeskBench, file: string): Promise<void> {
  const { warnings } = JSON.parse(readFileSync(join(desk().out, 'quay', file), 'utf8'))
  expect(warnings).not.toEqual([])
  await expect.poll(() => page.locator('.warned li').allTextContents()).toEqual(warnings)
}

inDesk('from an empty start to a patch', (bench) => {
  test('by mouse', async () => {
    const page = await bench.open()
    await page.getByLabel('A folder, one of its frames').fill(bench.plate())
    await page.getByRole('button', { name: 'Open', exact: true }).click()
    await page.locator('.picture-room').waitFor()
    await drag(
      page,
      await onScreen(page, WHO.x - 4, WHO.y - 4),
      await onScreen(page, WHO.x + WHO.w + 4, WHO.y + WHO.h + 4),
    )
    await page.getByRole('button', { name: 'Next: say on which frames' }).click()
    await drag(page, await onStrip(page, 1001), await onStrip(page, 1003))
    expect(await page.getByLabel('Target frames').inputValue()).toBe('1001-1003')
    await page.getByRole('button', { name: 'Next: look for frames' }).click()
    await page.getByRole('button', { name: 'Search', exact: true }).last().click()
    await page.getByRole('button', { name: 'Search again' }).waitFor({ timeout: SEARCH_MS })
    await page.getByRole('button', { name: 'Choose' }).click()
    await expectWarned(page, bench, 'search-1/result.json')
    expect(await violationsCloser(page, ['Wipe', 'Difference'])).toEqual([])
    await page.getByRole('button', { name: 'Accept' }).click()
    await page.getByText(/Accepted on/).waitFor()
    // A patch takes a while to be made: until it is there nobody shall take the frame as shot for it.
    let make = () => {}
    const made = new Promise<void>((resolve) => {
      make = resolve
    })
    await page.route('**/preview.png*', (route) => made.then(() => route.continue()))
    await page.getByRole('button', { name: 'Patch with this one' }).click()
    await page.getByText('as shot until the patch is made').waitFor()
    make()
    await page.getByText('as shot until the patch is made').waitFor({ state: 'detached' })
    await page.getByRole('button', { name: 'Write the patch' }).click()
    await page.getByRole('link', { name: 'check.html' }).waitFor({ timeout: SEARCH_MS })
    await expectSameByHand(page, bench)
  })
})

inDesk('from an empty start to a patch, without a pointer', (bench) => {
  test('by keyboard alone', async () => {
    const page = await bench.open()
    const { keyboard } = page
    const type = async (text: string) => {
      await keyboard.press('Control+a')
      await keyboard.type(text)
      await keyboard.press('Enter')
    }
    await tabTo(page, /^A folder, one of its frames/)
    await type(bench.plate())
    await page.locator('.picture-room').waitFor()
    await tabTo(page, 'Add a box by numbers')
    await keyboard.press('Enter')
    for (const [name, value] of [
      ['Left', WHO.x - 4],
      ['Top', WHO.y - 4],
      ['Width', WHO.w + 8],
      ['Height', WHO.h + 9],
    ] as const) {
      await tabTo(page, name)
      await type(String(value))
    }
    // Its lower right corner, one pixel up: as high as by mouse.
    await tabTo(page, /^Box 1, point 3: /)
    await keyboard.press('ArrowUp')
    await tabTo(page, 'Height')
    expect(await page.getByLabel('Height').inputValue()).toBe(String(WHO.h + 8))
    await tabTo(page, 'Next: say on which frames')
    await keyboard.press('Enter')
    await keyboard.press('Home')
    await keyboard.press('[')
    await keyboard.press('ArrowRight')
    await keyboard.press('ArrowRight')
    await keyboard.press(']')
    await tabTo(page, /^Next: look for frames/)
    await keyboard.press('Enter')
    await tabTo(page, 'Search')
    await keyboard.press('Enter')
    await page.getByRole('button', { name: 'Search again' }).waitFor({ timeout: SEARCH_MS })
    await keyboard.press('4')
    await tabTo(page, 'Accept')
    await keyboard.press('Enter')
    await page.getByText(/Accepted on/).waitFor()
    await tabTo(page, 'Patch with this one')
    await keyboard.press('Enter')
    await tabTo(page, /^Nudge/)
    await keyboard.press('Shift+ArrowRight')
    await tabTo(page, 'Write the patch')
    await keyboard.press('Enter')
    await page.getByRole('link', { name: 'check.html' }).waitFor({ timeout: SEARCH_MS })
    expect(await page.locator('.written pre').first().textContent()).toContain('--nudge 1,0')
    const written = (await page.locator('.written b').first().textContent())!
    await expectWarned(page, bench, `${written}/patch.json`)
    await expectSameByHand(page, bench)
  })
})

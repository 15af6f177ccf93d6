// The desk for everybody: what axe-core has against it, and what two pages on one shot see of each other. Truth: axe-core's rules
// (WCAG 2.2), and the state file that the server keeps.
import { readFileSync } from 'node:fs'
import { join } from 'node:path'
import type { Page } from 'playwright-core'
import { expect, test } from 'vitest'
import type { ShotState } from '../../src/desk/shot-state.js'
import { drag, FRAMES, inDesk, onScreen, onStrip } from './desk-page.js'
import { violations } from './violations.js'

const STEPS = ['Draw', 'Range', 'Search', 'Choose', 'Patch'] as const

/** The planted plate as a shot of its own. */
async function openShot(page: Page, address: string, plate: string): Promise<string> {
  const answer = await page.evaluate(async (spec) => {
    const body = JSON.stringify({ plate: spec })
    const response = await fetch('shots', {
      method: 'POST',
      headers: { 'content-type': 'application/json' },
      body,
    })
    return (await response.json()) as { name: string }
  }, plate)
  await page.goto(`${address}#/${answer.name}`)
  await page.locator('.picture-room').waitFor()
  return answer.name
}

const step = (page: Page, name: (typeof STEPS)[number]) =>
  page.getByRole('navigation').getByRole('button', { name }).click()

inDesk('axe finds nothing to say against the desk', (bench) => {
  test.each([1280, 3840])('opening a plate, and every step of a shot, %i px wide', async (width) => {
    const page = await bench.open({ viewport: { width, height: Math.round(width * 0.6) } })
    // A desk with one shot opens on it.
    await page.goto(`${bench.desk().address}#/`)
    await page.getByRole('heading', { name: 'Open a plate' }).waitFor()
    expect(await violations(page)).toEqual([])
    await openShot(page, bench.desk().address, bench.plate())
    await drag(page, await onScreen(page, 40, 30), await onScreen(page, 90, 80))
    for (const name of STEPS) {
      await step(page, name)
      for (const summary of await page.locator('summary').all()) await summary.click()
      expect(await violations(page)).toEqual([])
    }
    await step(page, 'Draw')
    await page.getByRole('button', { name: 'Borrow a shadow' }).click()
    for (const name of ['Draw', 'Range', 'Search'] as const) {
      await step(page, name)
      for (const summary of await page.locator('summary').all()) await summary.click()
      expect(await violations(page)).toEqual([])
    }
    await page.keyboard.press('?')
    expect(await violations(page)).toEqual([])
  })
})

inDesk('in a window as narrow as a phone', (bench) => {
  test('a shot opens with its picture in sight, not with what stands below it', async () => {
    const page = await bench.open({ viewport: { width: 420, height: 900 } })
    await openShot(page, bench.desk().address, bench.plate())
    await page.getByRole('heading', { name: 'Draw round what has to go' }).waitFor()
    expect(await page.evaluate(() => scrollY)).toBe(0)
    const { y } = (await page.locator('.picture-room').boundingBox())!
    expect(y).toBeGreaterThanOrEqual(0)
  })

  test('a range that ends with the plate does not widen the page', async () => {
    const page = await bench.open({ viewport: { width: 390, height: 844 } })
    await openShot(page, bench.desk().address, bench.plate())
    await step(page, 'Range')
    const range = page.getByLabel('Target frames')
    await range.fill(`1001-${1000 + FRAMES}`)
    await range.press('Enter')
    await page.getByRole('slider', { name: 'Last target frame' }).waitFor()
    expect(await page.evaluate(() => document.documentElement.scrollWidth)).toBe(390)
  })
})

inDesk('one shot on several pages', (bench) => {
  const kept = (name: string) =>
    JSON.parse(readFileSync(join(bench.desk().out, name, 'desk.json'), 'utf8')) as ShotState

  test('what one draws the other sees, and takes back nothing but its own', async () => {
    const [one, other] = [await bench.open(), await bench.open()]
    const name = await openShot(one, bench.desk().address, bench.plate())
    await other.goto(`${bench.desk().address}#/${name}`)
    await other.locator('.picture-room').waitFor()
    await drag(one, await onScreen(one, 40, 30), await onScreen(one, 90, 80))
    await other.getByRole('button', { name: 'Box 1', exact: true }).waitFor()
    await step(other, 'Range')
    await drag(other, await onStrip(other, 1002), await onStrip(other, 1004))
    await one
      .getByRole('navigation')
      .getByRole('button', { name: /Range.*done/ })
      .waitFor()
    // Taking back what this page drew leaves the other's range.
    await one.keyboard.press('Control+z')
    await one.getByRole('button', { name: 'Box 1', exact: true }).waitFor({ state: 'detached' })
    await expect.poll(() => kept(name).asked).toMatchObject({ frames: '1002-1004', region: { shapes: [] } })
    await one.keyboard.press('Control+Shift+z')
    await one.getByRole('button', { name: 'Box 1', exact: true }).waitFor()
    await expect.poll(() => kept(name).asked.region.shapes.length).toBe(1)
  })

  test('what is being typed is not torn away by what the other changes', async () => {
    const [one, other] = [await bench.open(), await bench.open()]
    const name = await openShot(one, bench.desk().address, bench.plate())
    await other.goto(`${bench.desk().address}#/${name}`)
    await other.locator('.picture-room').waitFor()
    await step(one, 'Range')
    await step(other, 'Range')
    const field = one.getByLabel('Target frames')
    await field.fill('1005-10')
    await drag(other, await onStrip(other, 1001), await onStrip(other, 1002))
    await one.getByText('2 frames', { exact: true }).waitFor()
    expect(await field.inputValue()).toBe('1005-10')
    await field.press('1')
    await field.press('1')
    await field.press('Enter')
    await expect.poll(() => kept(name).asked.frames).toBe('1005-1011')
    await expect.poll(() => other.getByLabel('Target frames').inputValue()).toBe('1005-1011')
  })
})

inDesk('a shape that was taken hold of', (bench) => {
  test('is moved by the arrow keys, one that is beside it leaves them to the frames', async () => {
    const page = await bench.open()
    await openShot(page, bench.desk().address, bench.plate())
    await drag(page, await onScreen(page, 40, 30), await onScreen(page, 90, 80))
    await page.keyboard.press('s')
    await page.mouse.click(...(await onScreen(page, 50, 40)))
    const left = Number(await page.getByLabel('Left').inputValue())
    await page.locator('.handle-middle:focus').waitFor()
    await page.keyboard.press('ArrowRight')
    await page.keyboard.press('Shift+ArrowRight')
    expect(Number(await page.getByLabel('Left').inputValue())).toBeCloseTo(left + 11, 2)
    expect(await page.getByLabel('Frame', { exact: true }).last().getAttribute('aria-valuenow')).toBe('1001')
    await page.mouse.click(...(await onScreen(page, 140, 110)))
    await page.keyboard.press('ArrowRight')
    expect(await page.getByLabel('Frame', { exact: true }).last().getAttribute('aria-valuenow')).toBe('1002')
  })
})

inDesk('what goes wrong is said where it was tried', (bench) => {
  test('frames that the plate does not have', async () => {
    const page = await bench.open()
    await openShot(page, bench.desk().address, bench.plate())
    await drag(page, await onScreen(page, 40, 30), await onScreen(page, 90, 80))
    await step(page, 'Range')
    await page.getByLabel('Target frames').fill('1003-1099')
    await page.getByLabel('Target frames').press('Enter')
    await step(page, 'Search')
    await page.getByText('The plate has no frame 1013-1099.').waitFor()
    expect(await page.getByRole('button', { name: 'Search', exact: true }).last().isDisabled()).toBe(true)
  })
})

// The console tells of every request that fails, so these are asked for by the page's own words alone.
inDesk('a desk that ends', (bench) => {
  test('is told of, and so is what it did not take any more', async () => {
    const page = await bench.open()
    await openShot(page, bench.desk().address, bench.plate())
    page.removeAllListeners('console')
    await bench.desk().close()
    await page.getByText('The connection to the desk is lost').waitFor()
    await step(page, 'Range')
    await drag(page, await onStrip(page, 1002), await onStrip(page, 1004))
    await page.getByText('the desk does not answer').waitFor()
  })
})

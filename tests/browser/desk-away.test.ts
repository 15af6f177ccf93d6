// The desk goes away while its page is open, and comes back. Truth: the state file that the next desk keeps, and what the page asks
// it for.
import { readFileSync, statSync } from 'node:fs'
import { join } from 'node:path'
import { expect, test } from 'vitest'
import type { ShotState } from '../../src/desk/shot-state.js'
import { runDesk } from '../desk/served.js'
import { drag, inDesk, onScreen, onStrip, WHO } from './desk-page.js'

inDesk('a desk that ends and is started again', (bench) => {
  test('is said to be gone, found again at its address, and told what was changed meanwhile', async () => {
    const page = await bench.open()
    await page.getByLabel('A folder, one of its frames').fill(bench.plate())
    await page.getByRole('button', { name: 'Open', exact: true }).click()
    await page.locator('.picture-room').waitFor()
    await drag(page, await onScreen(page, WHO.x, WHO.y), await onScreen(page, WHO.x + WHO.w, WHO.y + WHO.h))
    const kept = () =>
      JSON.parse(readFileSync(join(bench.desk().out, 'quay', 'desk.json'), 'utf8')) as ShotState
    await expect.poll(() => kept().asked.region.shapes.length).toBe(1)
    // The console tells of every request that fails.
    page.removeAllListeners('console')
    await bench.desk().close()
    await page.getByText('The connection to the desk is lost').waitFor()
    // Two ranges, of which the second counts.
    await page.getByRole('navigation').getByRole('button', { name: 'Range' }).click()
    await drag(page, await onStrip(page, 1002), await onStrip(page, 1004))
    await drag(page, await onStrip(page, 1006), await onStrip(page, 1009))
    await page.getByText('the desk does not answer').waitFor()
    expect(await page.getByLabel('Target frames').inputValue()).toBe('1006-1009')
    await page.locator('.strip').press('End')
    expect(kept().asked.frames).toBe('')

    const back = await runDesk(bench.folder(), [])
    try {
      expect(back.address).toBe(bench.desk().address)
      await page.getByText('The connection to the desk is lost').waitFor({ state: 'detached' })
      await expect.poll(() => kept().asked).toMatchObject({ frames: '1006-1009' })
      expect(kept().asked.region.shapes).toHaveLength(1)
      await page.getByText('the desk does not answer').waitFor({ state: 'detached' })
      expect(await page.getByLabel('Target frames').inputValue()).toBe('1006-1009')
      // What is changed now is news for another page, too.
      const other = await bench.open()
      other.removeAllListeners('console')
      await other.goto(`${back.address}#/quay`)
      await other.locator('.picture-room').waitFor()
      await drag(page, await onStrip(page, 1001), await onStrip(page, 1003))
      await other.getByRole('navigation').getByRole('button', { name: 'Range' }).click()
      await expect.poll(() => other.getByLabel('Target frames').inputValue()).toBe('1001-1003')
      // And a search runs.
      await page.getByRole('navigation').getByRole('button', { name: 'Search' }).click()
      await page.getByRole('button', { name: 'Search', exact: true }).last().click()
      await page.getByRole('button', { name: 'See what it found' }).waitFor({ timeout: 60_000 })
      // The secret is its owner's alone.
      if (process.platform !== 'win32')
        expect(statSync(join(back.out, '.address.json')).mode & 0o777).toBe(0o600)
    } finally {
      await back.close()
    }
  })
})

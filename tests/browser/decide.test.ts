import { readFile, writeFile } from 'node:fs/promises'
import { join } from 'node:path'
import type { Page } from 'playwright-core'
import { expect, test } from 'vitest'
import { type Decisions, parseDecisions } from '../../src/sheet/data/decisions.js'
import { searchFingerprint } from '../../src/sheet/data/fingerprint.js'
import { quaysideResult } from '../sheet/quayside.js'
import { inChromium } from './chromium.js'
import { lookCloser } from './closer-page.js'

const result = quaysideResult({ candidates: 4, frames: 2 })
const ids = result.candidates.map((c) => c.id)
const NOTE = `</script><img src=x onerror="document.title='run'"> keep an eye on the "left" edge, =1+1`

inChromium('deciding', ({ sheet, open, folder }) => {
  const row = (page: Page, i: number) => page.locator('.row').nth(i)
  const press = (page: Page, i: number, name: string) =>
    row(page, i).getByRole('button', { name, exact: true }).click()

  const saved = async (page: Page): Promise<{ path: string; decisions: Decisions }> => {
    const [download] = await Promise.all([
      page.waitForEvent('download'),
      page.getByRole('button', { name: 'Save decisions' }).click(),
    ])
    expect(download.suggestedFilename()).toBe('decisions.json')
    const path = join(folder(), `saved-${Date.now()}.json`)
    await download.saveAs(path)
    return { path, decisions: parseDecisions(await readFile(path, 'utf8')) }
  }
  const load = async (page: Page, path: string) => {
    // What was told before is no answer to this.
    await page.evaluate(() => document.getElementById('told')!.replaceChildren())
    await page.locator('#load-file').setInputFiles(path)
    await page.waitForFunction(() => document.getElementById('told')!.textContent !== '')
    return page.locator('#told').textContent()
  }

  test('accept, keep for later, reject, with a note and initials, comes out as a file that patch can take', async () => {
    const { page } = await open(await sheet('decide', result))
    await page.getByLabel('Initials').fill('KL')
    await page.getByLabel('Initials').blur()
    await row(page, 0).getByLabel('Note on 1').fill(NOTE)
    await press(page, 0, 'Accept')
    await press(page, 1, 'Keep for later')
    await press(page, 3, 'Reject')
    expect(await page.locator('#tally').textContent()).toBe('1 accepted, 1 for later, 1 rejected, 1 open')
    const { decisions } = await saved(page)
    expect(decisions).toMatchObject({
      search: searchFingerprint(result),
      plate: result.target.plate,
      first: 1060,
      last: 1061,
    })
    expect(
      decisions.decisions.map(({ candidate, decision, note, initials }) => [
        candidate,
        decision,
        note,
        initials,
      ]),
    ).toEqual([
      [ids[0], 'accept', NOTE, 'KL'],
      [ids[1], 'later', '', 'KL'],
      [ids[3], 'reject', '', 'KL'],
    ])
    expect(Math.abs(Date.parse(decisions.decisions[0].at) - Date.now())).toBeLessThan(60_000)
  })

  test('is taken back by deciding the same again, and changed by deciding otherwise', async () => {
    const { page } = await open(await sheet('decide', result))
    await press(page, 0, 'Accept')
    await press(page, 0, 'Reject')
    await press(page, 1, 'Accept')
    await press(page, 1, 'Accept')
    const { decisions } = await saved(page)
    expect(decisions.decisions.map((d) => [d.candidate, d.decision])).toEqual([[ids[0], 'reject']])
  })

  test('initials given at the end sign what was decided before', async () => {
    const { page } = await open(await sheet('decide', result))
    await press(page, 0, 'Accept')
    await page.getByLabel('Initials').fill('MB')
    const { decisions } = await saved(page)
    expect(decisions.decisions[0].initials).toBe('MB')
  })

  test('comes back from the file after a reload, hostile notes as text', async () => {
    const { page } = await open(await sheet('decide', result))
    await row(page, 0).getByLabel('Note on 1').fill(NOTE)
    await press(page, 0, 'Accept')
    await press(page, 2, 'Keep for later')
    const { path } = await saved(page)
    await page.reload()
    expect(await page.locator('[aria-pressed="true"]').count()).toBe(0)
    expect(await load(page, path)).toMatch(/^2 decided in saved-\d+\.json$/)
    expect(await row(page, 0).getByRole('button', { name: 'Accept' }).getAttribute('aria-pressed')).toBe(
      'true',
    )
    expect(
      await row(page, 2).getByRole('button', { name: 'Keep for later' }).getAttribute('aria-pressed'),
    ).toBe('true')
    expect(await row(page, 0).getByLabel('Note on 1').inputValue()).toBe(NOTE)
    expect(await row(page, 0).locator('.decided').textContent()).toContain(NOTE)
    expect(await page.title()).not.toBe('run')
  })

  test('looking closer decides the same candidate, with the same note', async () => {
    const { page } = await open(await sheet('decide', result))
    await lookCloser(page, 2)
    await page.getByRole('dialog').getByLabel('Note').fill('soft on the right')
    await page.getByRole('dialog').getByRole('button', { name: 'Keep for later' }).click()
    await page.keyboard.press('Escape')
    expect(await row(page, 2).getByLabel('Note on 3').inputValue()).toBe('soft on the right')
    const { decisions } = await saved(page)
    expect(decisions.decisions).toMatchObject([
      { candidate: ids[2], decision: 'later', note: 'soft on the right' },
    ])
  })

  test('a file of another plate, or no file of decisions at all, is refused in words and changes nothing', async () => {
    const { page } = await open(await sheet('decide', result))
    await press(page, 0, 'Accept')
    const { path, decisions } = await saved(page)
    await writeFile(path, JSON.stringify({ ...decisions, plate: 'quayside/other.####.exr' }))
    expect(await load(page, path)).toMatch(
      /decides on quayside\/other\.####\.exr, 1060 to 1061, this sheet shows/,
    )
    await writeFile(path, '{"schema":"offcut.decisions/1","decisions":[{"decision":"maybe"}]}')
    expect(await load(page, path)).toMatch(/has a fault: /)
    expect(await page.locator('#tally').textContent()).toBe('1 accepted, 3 open')
  })

  test('leaving with something unsaved is asked about, leaving after saving is not', async () => {
    const { page } = await open(await sheet('decide', result))
    await press(page, 0, 'Accept')
    let asked = 0
    page.on('dialog', (dialog) => {
      asked++
      return dialog.accept()
    })
    await page.reload()
    expect(asked).toBe(1)
    await press(page, 0, 'Accept')
    await saved(page)
    await page.reload()
    expect(asked).toBe(1)
  })
})

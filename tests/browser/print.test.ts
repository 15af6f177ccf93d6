import { readFile } from 'node:fs/promises'
import { join } from 'node:path'
import { expect, test } from 'vitest'
import type { Decisions } from '../../src/sheet/data/decisions.js'
import { searchFingerprint } from '../../src/sheet/data/fingerprint.js'
import { printPdf } from '../../src/sheet/pdf.js'
import { writeSheet } from '../../src/sheet/sheet.js'
import { quaysidePictures, quaysideResult } from '../sheet/quayside.js'
import { inChromium, PATIENCE_MS } from './chromium.js'

const result = quaysideResult({ candidates: 4, frames: 8 })

/** Page objects of a PDF as Chromium writes them (ISO 32000-1, 7.7.3.3: each page's dictionary is of type Page). */
async function pages(path: string): Promise<number> {
  const text = await readFile(path, 'latin1')
  return text.match(/\/Type\s*\/Page\b(?!s)/g)?.length ?? 0
}

const decisions: Decisions = {
  schema: 'offcut.decisions/1',
  search: searchFingerprint(result),
  plate: result.target.plate,
  first: 1060,
  last: 1067,
  decisions: [0, 2].map((i) => ({
    candidate: result.candidates[i].id,
    decision: 'accept',
    note: 'as it is',
    initials: 'KL',
    at: '2024-05-02T10:00:00Z',
  })),
}

inChromium('on paper', ({ folder, open, sheet }) => {
  test(
    'there is a page per candidate where none is accepted',
    async () => {
      const pdf = join(folder(), 'all.pdf')
      await printPdf(await sheet('paper', result), pdf)
      expect(await pages(pdf)).toBe(4)
    },
    PATIENCE_MS,
  )

  test(
    'there is a page per accepted candidate, and each says by whom and why',
    async () => {
      const out = join(folder(), 'accepted')
      await writeSheet(out, result, quaysidePictures(result), { decisions })
      const pdf = join(folder(), 'accepted.pdf')
      await printPdf(join(out, 'sheet.html'), pdf)
      expect(await pages(pdf)).toBe(2)
      const { page } = await open(join(out, 'sheet.html'))
      await page.emulateMedia({ media: 'print' })
      expect(await page.locator('.row:visible').count()).toBe(2)
      expect(await page.locator('.row:visible .decided').first().textContent()).toBe(
        'Accepted by KL on 2024-05-02: as it is',
      )
      expect(await page.locator('button:visible, .matrix:visible, dialog:visible').count()).toBe(0)
    },
    PATIENCE_MS,
  )

  test('text is black or nearly so on white: 7 to 1 at least', async () => {
    const { page } = await open(await sheet('paper', result))
    await page.emulateMedia({ media: 'print' })
    const darkest = await page.evaluate(() =>
      Math.max(
        ...[...document.querySelectorAll('.row *')]
          .filter((each) => each.checkVisibility() && each.textContent!.trim() !== '')
          .map((each) => Number(/\d+/.exec(getComputedStyle(each).color)![0])),
      ),
    )
    // WCAG 2.2, contrast ratio: grey 89 on white is 7.0 to 1.
    expect(darkest).toBeLessThanOrEqual(89)
    expect(await page.evaluate(() => getComputedStyle(document.body).backgroundColor)).toBe(
      'rgb(255, 255, 255)',
    )
  })

  test(
    'is not printed over a file that is there',
    async () => {
      const pdf = join(folder(), 'there.pdf')
      await printPdf(await sheet('paper', result), pdf)
      await expect(printPdf(await sheet('paper', result), pdf)).rejects.toMatchObject({
        code: 'OUTPUT_EXISTS',
      })
    },
    PATIENCE_MS,
  )
})

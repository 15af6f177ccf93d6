import type { Page } from 'playwright-core'
import { expect, test } from 'vitest'
import { LIMITS } from '../../src/search/measures.js'
import { quaysideResult } from '../sheet/quayside.js'
import { inChromium } from './chromium.js'

const HOSTILE = `quayside/<script>document.title='run'</script>"><img src=x onerror="document.title='run'">&amp;.exr`
const result = quaysideResult({ candidates: 6, frames: 4 })

inChromium('the sheet, opened from disk without a network', ({ sheet, open }) => {
  test('shows every candidate with four pictures, and each picture is there', async () => {
    const { page } = await open(await sheet('plain', result))
    expect(await page.locator('h1').textContent()).toBe('4 ways hold up over all 4 frames, 2 need work')
    expect(await page.locator('.row').count()).toBe(6)
    const empty = await page.evaluate(async () => {
      const images = [...document.querySelectorAll<SVGImageElement>('.picture image')]
      const sizes = await Promise.all(
        images.map(async (each) => {
          const image = new Image()
          image.src = each.href.baseVal
          await image.decode()
          return image.naturalWidth
        }),
      )
      return { count: sizes.length, empty: sizes.filter((width) => width === 0).length }
    })
    expect(empty).toEqual({ count: 4 * 6 + 1, empty: 0 })
  })

  test('without scripts all that is to be read is there, and nothing that would not work', async () => {
    const { page } = await open(await sheet('plain', result), { javaScriptEnabled: false })
    expect(await page.locator('.row:visible').count()).toBe(6)
    expect(await page.locator('.row').first().locator('.picture:visible').count()).toBe(4)
    expect(await page.locator('.row').first().locator('table.numbers tbody tr:visible').count()).toBe(12)
    expect(await page.locator('#overview tbody tr:visible').count()).toBe(6)
    expect(await page.locator('button:visible, input:visible, select:visible').count()).toBe(0)
    await page.locator('.row').first().getByText('Frame by frame').click()
    expect(await page.locator('.row').first().locator('table.frames tbody tr:visible').count()).toBe(4)
  })

  test('leads from a row’s numbers to what each of them means and how much of it is wanted, without scripts', async () => {
    const { page } = await open(await sheet('plain', result), { javaScriptEnabled: false })
    const row = page.locator('.row').nth(1)
    const labels = await row.locator('table.numbers tbody th').allTextContents()
    expect(await page.locator('#meanings').isVisible()).toBe(false)
    await row.getByRole('link', { name: 'what they mean' }).click()
    const meant = page.locator('#meanings')
    await meant.waitFor({ state: 'visible' })
    const said = (await meant.locator('dt').allTextContents()).flatMap((label) => label.split(', '))
    for (const label of labels) expect(said).toContain(label)
    const wanted = async (label: string) =>
      (await meant.locator('div', { has: page.getByText(label, { exact: true }) }).textContent())!.split(
        '; wanted: ',
      )[1]
    // The table of limits: src/search/measures.ts.
    expect(await wanted('seam')).toBe(`at most ${LIMITS.seam.holds[1].toFixed(2)}`)
    expect(await wanted('ncc')).toBe(`at least ${LIMITS.ncc.holds[0].toFixed(4)}`)
    expect(await wanted('sharpness')).toBe('0.70 to 1.40')
    expect(await wanted('stops')).toBe('−1.00 to +1.00')
  })

  test('says why beside the verdict, above the pictures, and names the donor’s plate where there are several', async () => {
    const { page } = await open(await sheet('plain', result))
    const row = page.locator('.row').first()
    const why = (await row.locator('.why').boundingBox())!
    const pictures = (await row.locator('.pictures').boundingBox())!
    expect(why.y + why.height).toBeLessThanOrEqual(pictures.y)
    expect(await row.locator('.row-head .donor-plate').count()).toBe(result.donors.length > 1 ? 1 : 0)
    const alone = { ...result, donors: result.donors.slice(0, 1) }
    const { page: one } = await open(await sheet('one-plate', alone))
    expect(await one.locator('.row-head .donor-plate').count()).toBe(0)
  })

  test('breaks no line between an option’s hyphens and its name, wherever the line ends', async () => {
    const warned = { ...result, warnings: ['x '.repeat(60) + '--membrane '.repeat(30)] }
    const { page } = await open(await sheet('options', warned), { viewport: { width: 900, height: 800 } })
    const lines = await page
      .locator('.warnings .option')
      .evaluateAll((all) => all.map((each) => each.getClientRects().length))
    expect(lines).toEqual(Array.from({ length: 30 }, () => 1))
    const tops = await page
      .locator('.warnings .option')
      .evaluateAll((all) => new Set(all.map((each) => each.getBoundingClientRect().top)).size)
    expect(tops).toBeGreaterThan(1)
  })

  test('takes hostile names for text', async () => {
    const { page } = await open(
      await sheet('hostile', quaysideResult({ candidates: 2, frames: 2, plate: HOSTILE })),
    )
    expect(await page.title()).toContain(HOSTILE)
    expect(await page.locator('.plate').textContent()).toBe(HOSTILE)
    expect(await page.locator('img').count()).toBe(0)
    expect(await page.evaluate(() => document.title)).not.toBe('run')
  })

  test('runs nothing that is put into it: the policy stops a script of another origin and one of its own', async () => {
    const { page, said } = await open(await sheet('plain', result))
    await page.evaluate(() => {
      const script = document.createElement('script')
      script.textContent = "document.title = 'run'"
      document.body.append(script)
      const button = document.createElement('button')
      button.setAttribute('onclick', "document.title = 'run'")
      document.body.append(button)
      button.click()
    })
    expect(await page.title()).not.toBe('run')
    expect(said.splice(0).join()).toContain('Content Security Policy')
  })

  test('has no colour of its own: every ground, letter, line and edge is a neutral grey (ISO 3664)', async () => {
    const { page } = await open(await sheet('plain', result))
    const coloured = await page.evaluate(() => {
      const properties = [
        'color',
        'backgroundColor',
        'borderTopColor',
        'fill',
        'stroke',
        'outlineColor',
        'accentColor',
      ] as const
      const found: string[] = []
      for (const element of document.querySelectorAll('body, body *')) {
        const style = getComputedStyle(element)
        for (const property of properties) {
          const [r, g, b] = (/^rgba?\((\d+), (\d+), (\d+)/.exec(style[property]) ?? []).slice(1)
          if (r !== g || g !== b) found.push(`${element.tagName} ${property} ${style[property]}`)
        }
      }
      return found
    })
    expect(coloured).toEqual([])
  })
})

async function clickCell(page: Page, donor: number, row: number): Promise<void> {
  const picture = page.locator('.matrix-picture')
  const { x, y, width, height } = (await picture.boundingBox())!
  const { donors, targets } = result.matrix!
  const column = donors.findIndex(({ frame }) => frame === donor)
  const [across, down] = [(column + 0.5) / donors.length, (row + 0.5) / targets.length]
  await page.mouse.click(x + across * width, y + down * height)
}

inChromium('the match matrix', ({ sheet, open }) => {
  test('tells frames and likeness under the pointer, as the result has them', async () => {
    const { page } = await open(await sheet('plain', result))
    const box = (await page.locator('.matrix-picture').boundingBox())!
    // Column 20 of 160, row 2 of 4.
    await page.mouse.move(box.x + (20.5 / 160) * box.width, box.y + (2.5 / 4) * box.height)
    const quality = Math.round(result.matrix!.quality[2][20]!)
    await page.waitForFunction(() => document.getElementById('matrix-readout')!.textContent !== '')
    const text = await page.locator('#matrix-readout').textContent()
    expect(text).toMatch(/^target 1062, donor 1021: \d+ of 100$/)
    expect(Math.abs(Number(/(\d+) of/.exec(text!)![1]) - quality)).toBeLessThanOrEqual(1)
  })

  test('tells them cell by cell to the arrow keys, and says what can not be compared', async () => {
    const { page } = await open(await sheet('plain', result))
    await page.locator('#matrix-frame').focus()
    for (let i = 0; i < 6; i++) await page.keyboard.press('Shift+ArrowRight')
    await page.keyboard.press('ArrowDown')
    await page.waitForFunction(() => document.getElementById('matrix-readout')!.textContent!.includes('1061'))
    expect(await page.locator('#matrix-readout').textContent()).toBe(
      'target 1061, donor 1061: not comparable',
    )
  })

  test('draws a hold as a column, a run as a diagonal, a mirror as the other diagonal', async () => {
    const { page } = await open(await sheet('plain', result))
    const slopes = await page.evaluate(() =>
      [...document.querySelectorAll('.matrix-picture a[aria-label]')].map((link) => {
        const points = [
          ...link
            .querySelector('.line')!
            .getAttribute('d')!
            .matchAll(/L([\d.]+) ([\d.]+)/g),
        ]
        const [first, last] = [points[0], points[points.length - 2]].map((m) => m.slice(1).map(Number))
        return [link.getAttribute('aria-label')!.split(',')[0], (last[0] - first[0]) / (last[1] - first[1])]
      }),
    )
    const slope = Object.fromEntries(slopes)
    expect(slope['1: hold']).toBe(0)
    expect(slope['2: run']).toBe(1)
    expect(slope['3: mirror']).toBe(-1)
  })

  test('leads from a line to its candidate by click and by key', async () => {
    const { page } = await open(await sheet('plain', result))
    const { id, frames } = result.candidates[1]
    await clickCell(page, frames[2].donor, 2)
    await page.waitForFunction((hash) => location.hash === hash, `#way-${id.replace('+', 'plus')}`)
    expect(await page.locator('#matrix-readout').textContent()).toContain('2: run')
    await page.getByRole('link', { name: '1: hold' }).focus()
    expect(await page.locator('#matrix-readout').textContent()).toContain('1: hold')
    await page.keyboard.press('Enter')
    await page.waitForFunction(() => location.hash === '#way-hold-1101')
    expect(await page.evaluate(() => document.activeElement!.querySelector('h3')!.textContent)).toContain(
      '1 Hold',
    )
    expect(await page.evaluate(() => document.activeElement?.classList.contains('row'))).toBe(true)
  })

  test('is gone through by Tab from the best candidate on, each line drawn over all others', async () => {
    const { page } = await open(await sheet('plain', result))
    await page.locator('#matrix-frame').focus()
    const gone: string[] = []
    for (let i = 0; i < 6; i++) {
      await page.keyboard.press('Tab')
      gone.push(await page.evaluate(() => document.activeElement!.getAttribute('aria-label')!.split(':')[0]))
      const [drawn, over] = await page.evaluate(() => {
        const links = [...document.querySelectorAll('.matrix-picture a')]
        const seen = links.filter((link) => getComputedStyle(link).opacity === '1')
        return [seen.includes(document.activeElement!), seen.at(-1) === document.activeElement]
      })
      expect([drawn, over]).toEqual([true, true])
    }
    expect(gone).toEqual(['1', '2', '3', '4', '5', '6'])
  })

  test('where a run crosses a hold that fits better, a click goes to the hold', async () => {
    const [hold, run] = result.candidates
    const from = hold.frames[0].donor
    const frames = run.frames.map((f, i) => ({ ...f, donor: from + i }))
    const crossing = { ...result, candidates: [hold, { ...run, frames }] }
    const { page } = await open(await sheet('crossing', crossing))
    await clickCell(page, from, 0)
    await page.waitForFunction(() => location.hash !== '')
    expect(await page.evaluate(() => location.hash)).toBe('#way-hold-1101')
  })
})

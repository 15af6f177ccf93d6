// The page of a real search: what it draws is there, and it flashes no faster than anybody can bear.
import { join } from 'node:path'
import { expect, test } from 'vitest'
import { searchedPorter } from '../sheet/searched.js'
import { inChromium, PATIENCE_MS } from './chromium.js'
import { drawn, lookCloser, samples } from './closer-page.js'

inChromium('the page of a search that hides a porter', ({ sheet, open, folder }) => {
  let made: Promise<Awaited<ReturnType<typeof searchedPorter>>> | undefined
  const opened = async () => {
    made ??= searchedPorter(join(folder(), 'porter-plate'))
    const { result, pictures } = await made
    const { page } = await open(await sheet('porter', result, pictures))
    return { page, result }
  }

  test('has its candidates in the order of the search, and decodes every picture of every row', {
    timeout: 2 * PATIENCE_MS,
  }, async () => {
    const { page, result } = await opened()
    const ids = await page.locator('.row .row-verdict code').allTextContents()
    expect(ids).toEqual(result.candidates.map((c) => c.id))
    const sizes = await page.evaluate(async () => {
      const uris = [...document.querySelectorAll('.row image')].map((i) => i.getAttribute('href')!)
      const pictures = uris.map(async (uri) => {
        const picture = new Image()
        picture.src = uri
        await picture.decode()
        return picture.naturalWidth * picture.naturalHeight
      })
      return Promise.all(pictures)
    })
    expect(sizes).toHaveLength(4 * result.candidates.length)
    expect(Math.min(...sizes)).toBeGreaterThan(1000)
  })

  test('shows every frame of the best candidates, each another picture', async () => {
    const { page, result } = await opened()
    for (const [i, candidate] of result.candidates.slice(0, 3).entries()) {
      await lookCloser(page, i)
      const shots = new Set<string>()
      for (const [k, match] of candidate.frames.entries()) {
        await page.getByLabel('Frame', { exact: true }).fill(String(k))
        await page.waitForFunction(
          (target) => document.getElementById('closer-target')!.textContent === target,
          String(match.target),
        )
        await page.waitForTimeout(50)
        await drawn(page)
        shots.add((await samples(page)).data.join())
      }
      expect(shots.size).toBe(candidate.frames.length)
      await page.keyboard.press('Escape')
    }
  })

  test('flips between the porter and the wall at no more than three flashes a second, at any pixel', async () => {
    const { page } = await opened()
    await lookCloser(page)
    await page.getByRole('button', { name: 'Flip', exact: true }).click()
    await drawn(page)
    const seconds = 3
    // WCAG 2.2: a general flash is a pair of opposing changes of relative luminance by a tenth of the most there can be.
    const swings = await page.evaluate(async (until) => {
      const canvas = document.querySelector<HTMLCanvasElement>('.stage canvas')!
      const light = (code: number) =>
        code / 255 <= 0.04045 ? code / 255 / 12.92 : ((code / 255 + 0.055) / 1.055) ** 2.4
      const luminances = () => {
        const { data } = canvas.getContext('2d')!.getImageData(0, 0, canvas.width, canvas.height)
        const out = new Float32Array(data.length / 4)
        for (let i = 0, k = 0; k < out.length; i += 4, k++)
          out[k] = 0.2126 * light(data[i]) + 0.7152 * light(data[i + 1]) + 0.0722 * light(data[i + 2])
        return out
      }
      const last = luminances()
      const count = new Uint16Array(last.length)
      const end = performance.now() + until
      while (performance.now() < end) {
        await new Promise((next) => setTimeout(next, 20))
        const now = luminances()
        for (let k = 0; k < now.length; k++) {
          if (Math.abs(now[k] - last[k]) < 0.1) continue
          count[k]++
          last[k] = now[k]
        }
      }
      return Math.max(...count)
    }, 1000 * seconds)
    expect(swings).toBeGreaterThanOrEqual(2)
    expect(swings / 2 / seconds).toBeLessThanOrEqual(3)
  })
})

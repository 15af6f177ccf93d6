// A real Chromium for the tests of the sheet; where there is none they say so and how to have it.
import { mkdtemp, rm } from 'node:fs/promises'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { pathToFileURL } from 'node:url'
import { type Browser, type BrowserContextOptions, chromium, type Page } from 'playwright-core'
import { afterAll, afterEach, beforeAll, describe, expect, test } from 'vitest'
import type { Result } from '../../src/search/result.js'
import type { PictureSource } from '../../src/sheet/data/pictures.js'
import { findChromium } from '../../src/sheet/pdf.js'
import { writeSheet } from '../../src/sheet/sheet.js'
import { heronPictures, quaysidePictures, quaysideWhole } from '../sheet/quayside.js'

export const FLAGS = [
  '--no-sandbox',
  '--disable-gpu',
  '--disable-background-networking',
  '--disable-component-update',
  '--disable-sync',
  '--no-first-run',
]

/** The pictures are large enough for a slow machine to need longer than vitest's five seconds. */
export const PATIENCE_MS = 30_000

export interface Opened {
  readonly page: Page
  /** what the console and the page's errors said; a test that expects nothing leaves it empty */
  readonly said: string[]
}

export interface Bench {
  /** Writes a sheet once per name and gives its path; without pictures of its own a result gets made-up ones. */
  sheet: (name: string, result: Result, pictures?: PictureSource) => Promise<string>
  /** Opens it from disk with the network cut. */
  open: (path: string, options?: BrowserContextOptions) => Promise<Opened>
  folder: () => string
}

/** A window that is used by one test after another: a new one is a process of its own, three times as dear as a page in it. */
interface Kept {
  /** Its options, without its size. */
  readonly key: string
  readonly page: Page
}

export const chromiumPath = await findChromium()

/** Tests in a browser. Every page must ask for nothing but its own file, and say nothing on the console. */
export function inChromium(title: string, body: (bench: Bench) => void): void {
  if (chromiumPath === null) {
    test.skip(
      `${title}: skipped, as no Chromium was found (apt-get install chromium, or name one in CHROME_PATH)`,
    )
    return
  }
  describe(title, { timeout: PATIENCE_MS }, () => {
    let browser: Browser
    let folder: string
    const sheets = new Map<string, Promise<string>>()
    const free: Kept[] = []
    const opened: (Opened & { readonly asked: string[]; readonly kept: Kept })[] = []

    beforeAll(async () => {
      folder = await mkdtemp(join(tmpdir(), 'offcut-browser-'))
      browser = await chromium.launch({ executablePath: chromiumPath, args: FLAGS })
    }, PATIENCE_MS)
    afterEach(async ({ task }) => {
      const failed = task.result?.state === 'fail'
      for (const { page, said, asked, kept } of opened.splice(0)) {
        page.removeAllListeners()
        if (failed || said.length > 0 || asked.length > 0) await page.context().close()
        else free.push(kept)
        expect(said).toEqual([])
        expect(asked).toEqual([])
      }
    })
    afterAll(async () => {
      await browser?.close()
      await rm(folder, { recursive: true, force: true })
    })

    /** A window of these options that no test has any more, as it was when it was new; else a new one. */
    const windowOf = async ({ viewport, ...options }: BrowserContextOptions): Promise<Kept> => {
      const size = viewport ?? { width: 1280, height: 800 }
      const key = JSON.stringify(options)
      const at = free.findIndex((one) => one.key === key)
      if (at >= 0) {
        const [kept] = free.splice(at, 1)
        await kept.page.emulateMedia({ media: null })
        await kept.page.setViewportSize(size)
        await kept.page.mouse.move(0, 0)
        return kept
      }
      const context = await browser.newContext({ viewport: size, ...options })
      await context.setOffline(true)
      return { key, page: await context.newPage() }
    }

    body({
      folder: () => folder,
      sheet: (name, result, own) => {
        const known = sheets.get(name)
        if (known) return known
        const out = join(folder, name)
        const pictures = own ?? (result.aim === 'borrow' ? heronPictures(result) : quaysidePictures(result))
        const made = writeSheet(out, result, pictures, own ? {} : { wholeFrame: quaysideWhole(result) }).then(
          () => join(out, 'sheet.html'),
        )
        sheets.set(name, made)
        return made
      },
      open: async (file, options = {}) => {
        const kept = await windowOf(options)
        const { page } = kept
        const said: string[] = []
        const asked: string[] = []
        page.on('console', (message) => said.push(message.text()))
        page.on('pageerror', (error) => said.push(String(error)))
        page.on('request', (request) => {
          const url = request.url()
          if (url !== pathToFileURL(file).href && !/^(data|blob):/.test(url)) asked.push(url)
        })
        opened.push({ page, said, asked, kept })
        await page.goto(pathToFileURL(file).href)
        return { page, said }
      },
    })
  })
}

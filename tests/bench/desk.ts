// What an artist at the desk waits for, in a real Chromium at a desk of its own process: the first picture of a large plate,
// frames one after another, and an answer while a search runs.
import { type ChildProcess, spawn } from 'node:child_process'
import { mkdtemp, rm } from 'node:fs/promises'
import { tmpdir } from 'node:os'
import { join, resolve } from 'node:path'
import { type Browser, chromium, type Page } from 'playwright-core'
import { findChromium } from '../../src/sheet/pdf.js'
import type { Figure } from './figures.js'
import type { BenchPlate } from './plate.js'

const MAX_FIRST_SECONDS = 1
const MIN_SCRUBBED = 24
const MAX_WAIT_MS = 100
/** Frames that are scrubbed: what a small plate's proxies leave room for. */
const SCRUBBED = 48
const REQUESTS = 100
const SCREEN = { width: 1920, height: 1080 }
const FLAGS = ['--no-sandbox', '--disable-gpu', '--disable-background-networking', '--no-first-run']

/**
 * @param large  a plate of large EXRs
 * @param small  one whose frames all stay in the desk's memory, and that is searched
 * @param frames target frames of that search
 */
export async function deskFigures(
  large: BenchPlate,
  small: BenchPlate,
  frames: string,
  say: (line: string) => void,
): Promise<Figure[]> {
  say('the desk in a browser')
  const executablePath = await findChromium()
  if (executablePath === null) return unmeasured()
  const browser = await chromium.launch({ executablePath, args: FLAGS })
  const folder = await mkdtemp(join(tmpdir(), 'offcut-bench-desk-'))
  try {
    return [
      await atDesk(folder, 'large', large, (address) => firstPicture(browser, address, large)),
      ...(await atDesk(folder, 'small', small, (address) => atWork(browser, address, small, frames, say))),
    ]
  } finally {
    await browser.close()
    await rm(folder, { recursive: true, force: true })
  }
}

const FIRST = 'the desk: from opening its page to the first frame of a plate of EXRs'
const SCRUB = 'the desk: frames a second that are shown one after another, once they were seen'
const ANSWER = 'the desk: longest wait for a change to be taken while a search runs'
const DRAWN = 'the desk: longest time that its page draws nothing while a search runs'
const EARLY = 'the desk: time to the first candidates over that of the whole search'

function unmeasured(): Figure[] {
  const detail = 'no Chromium was found: apt-get install chromium, or name one in CHROME_PATH'
  return [FIRST, SCRUB, ANSWER, DRAWN, EARLY].map((what) => ({ what, value: null, unit: '', detail }))
}

/** Runs something at a desk that holds one plate, with an empty cache. */
async function atDesk<T>(
  folder: string,
  name: string,
  plate: BenchPlate,
  use: (address: string) => Promise<T>,
): Promise<T> {
  const home = join(folder, `${name}-home`)
  const args = ['desk', plate.folder, '--out', join(folder, name), '--no-open']
  const child = spawn(process.execPath, [resolve('bin/offcut.js'), ...args], {
    env: { ...process.env, XDG_CACHE_HOME: home, HOME: home, LOCALAPPDATA: home },
    stdio: ['ignore', 'pipe', 'ignore'],
  })
  try {
    return await use(await firstLine(child))
  } finally {
    const ended = new Promise((done) => child.once('exit', done))
    child.kill('SIGINT')
    await ended
  }
}

function firstLine(child: ChildProcess): Promise<string> {
  return new Promise((found, failed) => {
    let text = ''
    child.stdout!.on('data', (bytes) => {
      text += bytes
      if (text.includes('\n')) found(text.slice(0, text.indexOf('\n')))
    })
    child.once('exit', (code) => failed(new Error(`the desk ended with ${code}`)))
  })
}

/** Codes in the middle of the picture as one text, empty while nothing is drawn: the plate's grain tells frames apart. */
const MIDDLE = `window.middleOf = () => {
  const canvas = document.querySelector('.picture-room canvas')
  if (!canvas || canvas.width < 64 || canvas.height < 64) return ''
  const { data } = canvas.getContext('2d').getImageData(canvas.width >> 1, canvas.height >> 1, 16, 16)
  return data.every((v, i) => v === data[i & 3]) ? '' : data.join()
}`

async function opened(browser: Browser, address: string): Promise<Page> {
  // What is waited for is compiled from text, which the desk's policy forbids.
  const page = await browser.newPage({ viewport: SCREEN, bypassCSP: true })
  await page.addInitScript(MIDDLE)
  await page.goto(address, { waitUntil: 'commit' })
  return page
}

async function firstPicture(browser: Browser, address: string, plate: BenchPlate): Promise<Figure> {
  const page = await opened(browser, address)
  const ms = await page.waitForFunction('middleOf() !== "" && performance.now()', null, {
    polling: 'raf',
    timeout: 60_000,
  })
  const seconds = Number(await ms.jsonValue()) / 1000
  await page.close()
  return {
    what: FIRST,
    value: seconds,
    unit: 's',
    most: MAX_FIRST_SECONDS,
    detail: `${plate.frames} frames of ${plate.width} x ${plate.height}, half floats in ZIP; empty cache, one run`,
  }
}

/** Scrubs, then searches and keeps on working. */
async function atWork(
  browser: Browser,
  address: string,
  plate: BenchPlate,
  frames: string,
  say: (line: string) => void,
): Promise<Figure[]> {
  const page = await opened(browser, address)
  await page.waitForFunction('middleOf() !== ""', null, { timeout: 60_000 })
  await scrub(page)
  const seconds = await scrub(page)
  say(`  ${SCRUBBED} frames in ${seconds.toFixed(2)} s`)
  const searched = await searchBeside(page, address, plate, frames)
  const waits = searched.waitsMs.length
  await page.close()
  return [
    {
      what: SCRUB,
      value: SCRUBBED / seconds,
      unit: 'frames a second',
      least: MIN_SCRUBBED,
      detail: `${SCRUBBED} frames of ${plate.width} x ${plate.height} by the right arrow, each drawn before the next is asked for`,
    },
    {
      what: ANSWER,
      value: Math.max(...searched.waitsMs),
      unit: 'ms',
      most: MAX_WAIT_MS,
      detail: `${waits} changes of the shot during a search of ${searched.seconds.toFixed(1)} s; mean ${(searched.waitsMs.reduce((sum, ms) => sum + ms, 0) / waits).toFixed(1)} ms`,
    },
    {
      what: DRAWN,
      value: searched.longestGapMs,
      unit: 'ms',
      most: MAX_WAIT_MS,
      detail: 'between two of the browser’s frames, meanwhile',
    },
    {
      what: EARLY,
      value: searched.firstSeconds === null ? null : searched.firstSeconds / searched.seconds,
      unit: 'of the search',
      detail: `with its sheet, ${plate.frames} frames, targets ${frames}`,
    },
  ]
}

/** Once from the first frame to the last that is scrubbed. @returns seconds */
async function scrub(page: Page): Promise<number> {
  await page.keyboard.press('Home')
  await page.waitForTimeout(1000)
  const ms = await page.evaluate(`(async () => {
    const began = performance.now()
    for (let i = 0; i < ${SCRUBBED}; i++) {
      const before = middleOf()
      const key = { key: 'ArrowRight', code: 'ArrowRight', bubbles: true, cancelable: true }
      document.body.dispatchEvent(new KeyboardEvent('keydown', key))
      document.body.dispatchEvent(new KeyboardEvent('keyup', key))
      while (middleOf() === before) {
        if (performance.now() - began > 60000) throw new Error('no other frame came in a minute')
        await new Promise(requestAnimationFrame)
      }
    }
    return performance.now() - began
  })()`)
  return Number(ms) / 1000
}

interface Searched {
  readonly seconds: number
  /** To the first ranking; null where none came. */
  readonly firstSeconds: number | null
  readonly waitsMs: readonly number[]
  readonly longestGapMs: number
}

async function searchBeside(
  page: Page,
  address: string,
  plate: BenchPlate,
  frames: string,
): Promise<Searched> {
  const { origin } = new URL(address)
  const ask = (path: string, method: string, body: unknown) =>
    fetch(address + path, {
      method,
      headers: { Origin: origin, 'Content-Type': 'application/json' },
      body: JSON.stringify(body),
    })
  const [{ name }] = (await (await fetch(`${address}shots`)).json()) as { name: string }[]
  const [x, y] = [plate.width / 2 - 96, plate.height / 2 - 96]
  const points = [
    [x, y],
    [x + 192, y + 192],
  ]
  const shape = { id: 'bench', kind: 'box', cut: false, keys: [{ frame: 1001, points }] }
  await ask(`shots/${name}`, 'PATCH', { asked: { frames, region: { shapes: [shape], file: null } } })
  await page.evaluate(`window.gaps = { last: performance.now(), longest: 0, ended: false, first: null, began: performance.now() };
    (function watch() {
      const now = performance.now()
      gaps.longest = Math.max(gaps.longest, now - gaps.last)
      gaps.last = now
      requestAnimationFrame(watch)
    })();
    new EventSource('events').onmessage = ({ data }) => {
      const told = JSON.parse(data)
      if (told.kind === 'ranking' && gaps.first === null && told.candidates.length > 0) gaps.first = performance.now() - gaps.began
      if (told.kind === 'shot' && told.opened.state.searches.some(({ state }) => state !== 'running')) gaps.ended = performance.now() - gaps.began
    }`)
  const began = await ask(`shots/${name}/search`, 'POST', {})
  if (!began.ok) throw new Error(`the search was refused: ${await began.text()}`)
  const waitsMs: number[] = []
  for (let ended = false; !ended; ) {
    const asked = performance.now()
    await ask(`shots/${name}`, 'PATCH', { view: { frame: 1001 + (waitsMs.length % 40) } })
    waitsMs.push(performance.now() - asked)
    await new Promise((resume) => setTimeout(resume, waitsMs.length < REQUESTS ? 50 : 500))
    ended = (await page.evaluate('gaps.ended')) !== false
  }
  const { longest, first, ended } = (await page.evaluate('gaps')) as {
    longest: number
    first: number | null
    ended: number
  }
  return {
    seconds: ended / 1000,
    firstSeconds: first === null ? null : first / 1000,
    waitsMs,
    longestGapMs: longest,
  }
}

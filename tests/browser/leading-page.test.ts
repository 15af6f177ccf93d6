// How the desk opens a browser. Truth: the arguments that the system's opener gets, the modes of a POSIX file, and where a real
// Chromium ends up (HTML 4.2.5.3, refresh; WHATWG Fetch 2.2.5: a navigation by GET has no Origin).
import { spawn } from 'node:child_process'
import { chmodSync, existsSync, mkdirSync, readdirSync, readFileSync, statSync, writeFileSync } from 'node:fs'
import { delimiter, dirname, join } from 'node:path'
import { fileURLToPath, pathToFileURL } from 'node:url'
import { chromium } from 'playwright-core'
import { afterAll, afterEach, describe, expect, test, vi } from 'vitest'
import { makeLeadingPage } from '../../src/desk/leading-page.js'
import { scratch } from '../desk/served.js'
import { chromiumPath, FLAGS, PATIENCE_MS } from './chromium.js'

const LAUNCHER = fileURLToPath(new URL('../../bin/offcut.js', import.meta.url))
const { folder, remove } = scratch('leading-page')
afterAll(remove)

/** Writes down its arguments, a line each, in a file that appears whole. */
const OPENER = `#!/bin/sh
printf '%s\\n' "$@" > "$OPENED.part" && mv "$OPENED.part" "$OPENED"
`

/** The desk as somebody with a display starts it, with a system's opener that opens nothing. */
async function startOpening(name: string, temporary = join(folder, name, 'temporary')) {
  const at = join(folder, name)
  mkdirSync(join(at, 'bin'), { recursive: true })
  mkdirSync(join(at, 'temporary'))
  for (const opener of ['xdg-open', 'open']) {
    writeFileSync(join(at, 'bin', opener), OPENER)
    chmodSync(join(at, 'bin', opener), 0o755)
  }
  const opened = join(at, 'opened')
  const child = spawn(process.execPath, [LAUNCHER, 'desk', '--out', join(at, 'desk')], {
    cwd: at,
    stdio: ['ignore', 'pipe', 'pipe'],
    env: {
      ...process.env,
      PATH: join(at, 'bin') + delimiter + process.env.PATH,
      DISPLAY: ':99',
      TMPDIR: temporary,
      OPENED: opened,
    },
  })
  const ended = new Promise((resolve) => child.once('exit', resolve))
  let printed = ''
  let said = ''
  child.stdout.on('data', (bytes) => {
    printed += bytes
  })
  child.stderr.on('data', (bytes) => {
    said += bytes
  })
  await vi.waitFor(() => expect(printed).toContain('\n'), { timeout: PATIENCE_MS })
  const address = printed.trim()
  return {
    address,
    token: new URL(address).pathname.split('/')[1],
    temporary: join(at, 'temporary'),
    said: () => said.replaceAll(/\s+/g, ' '),
    hasOpened: () => existsSync(opened),
    opened: async () => {
      await vi.waitFor(() => expect(existsSync(opened)).toBe(true), { timeout: PATIENCE_MS })
      return readFileSync(opened, 'utf8').trimEnd().split('\n')
    },
    end: () => {
      child.kill('SIGINT')
      return ended
    },
  }
}

describe.skipIf(process.platform === 'win32')('what opens a browser', { timeout: 3 * PATIENCE_MS }, () => {
  test('is not told the secret, but of a file that leads there and is gone when the desk ends', async () => {
    const desk = await startOpening('opened')
    try {
      const args = await desk.opened()
      expect(args).toHaveLength(1)
      expect(desk.token).toHaveLength(43)
      expect(args[0]).not.toContain(desk.token)
      const [path] = args
      expect(dirname(dirname(path))).toBe(desk.temporary)
      expect(statSync(path).mode & 0o777).toBe(0o600)
      expect(statSync(dirname(path)).mode & 0o777).toBe(0o700)
      if (chromiumPath !== null) await expectLeads(path, desk.address)
    } finally {
      await desk.end()
    }
    expect(readdirSync(desk.temporary).filter((name) => name.startsWith('offcut-open-'))).toEqual([])
  })

  test('is not started where the file can’t be made, which is said, and the address stands there', async () => {
    const nowhere = join(folder, 'refused', 'nowhere')
    const desk = await startOpening('refused', nowhere)
    try {
      const sentence = `note: no browser was opened, as no file can be made in ${nowhere} (ENOENT): open the address in one on this machine`
      await vi.waitFor(() => expect(desk.said()).toContain(sentence), { timeout: PATIENCE_MS })
      expect((await fetch(desk.address)).status).toBe(200)
      expect(desk.hasOpened()).toBe(false)
    } finally {
      await desk.end()
    }
  })
})

/** In a window without scripts as well as in one with them: none is needed on the way. */
async function expectLeads(path: string, address: string): Promise<void> {
  const browser = await chromium.launch({ executablePath: chromiumPath!, args: FLAGS })
  try {
    for (const javaScriptEnabled of [true, false]) {
      const page = await (await browser.newContext({ javaScriptEnabled })).newPage()
      const answered = page.waitForResponse(address)
      await page.goto(pathToFileURL(path).href, { waitUntil: 'commit' })
      expect((await answered).status()).toBe(200)
      await page.waitForURL(address)
      expect(await page.title()).toMatch(/offcut/i)
    }
  } finally {
    await browser.close()
  }
}

describe('a page that leads to the desk', () => {
  afterEach(() => vi.useRealTimers())

  test('is gone after a minute', async () => {
    vi.useFakeTimers({ toFake: ['setTimeout', 'clearTimeout'] })
    const { path } = await makeLeadingPage('http://127.0.0.1:1/x/')
    await vi.advanceTimersByTimeAsync(59_000)
    expect(existsSync(path)).toBe(true)
    await vi.advanceTimersByTimeAsync(1000)
    vi.useRealTimers()
    await vi.waitFor(() => expect(existsSync(dirname(path))).toBe(false))
  })

  test('has a plain link too, and lets no address out of its attribute', async () => {
    const page = await makeLeadingPage('http://127.0.0.1:1/"><b>&\'/')
    const text = readFileSync(page.path, 'utf8')
    await page.remove()
    const escaped = 'http://127.0.0.1:1/&quot;&gt;&lt;b&gt;&amp;&#39;/'
    expect(text).toContain(`<a href="${escaped}">`)
    expect(text).toContain(`content="0; url=${escaped}"`)
    expect(text).not.toMatch(/<b>|<script/)
    expect(existsSync(dirname(page.path))).toBe(false)
  })
})

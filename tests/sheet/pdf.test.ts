import { chmod, mkdtemp, rm, writeFile } from 'node:fs/promises'
import { tmpdir } from 'node:os'
import { delimiter, join } from 'node:path'
import { afterAll, beforeAll, describe, expect, test, vi } from 'vitest'
import { findChromium, printPdf } from '../../src/sheet/pdf.js'

let folder: string
beforeAll(async () => {
  folder = await mkdtemp(join(tmpdir(), 'offcut-pdf-'))
})
afterAll(() => rm(folder, { recursive: true }))

async function script(name: string, text: string): Promise<string> {
  const path = join(folder, name)
  await writeFile(path, `#!/bin/sh\n${text}\n`)
  await chmod(path, 0o755)
  return path
}

describe.skipIf(process.platform === 'win32')('the browser that prints', () => {
  test('is the one that CHROME_PATH names, and none else where that is not there', async () => {
    const path = await script('mine', 'exit 0')
    expect(await findChromium({ CHROME_PATH: path, PATH: '' })).toBe(path)
    expect(await findChromium({ CHROME_PATH: join(folder, 'nowhere'), PATH: process.env.PATH })).toBe(null)
  })

  test('is found on the search path, by the first of its names', async () => {
    const path = await script('chromium', 'exit 0')
    await script('google-chrome', 'exit 0')
    expect(await findChromium({ PATH: ['/nowhere', folder].join(delimiter) })).toBe(path)
  })

  test('missing is said with what to do', async () => {
    vi.stubEnv('CHROME_PATH', join(folder, 'nowhere'))
    await expect(printPdf('sheet.html', join(folder, 'a.pdf'))).rejects.toMatchObject({
      code: 'NO_CHROMIUM',
      message: expect.stringMatching(
        /none was found: install one, name it in CHROME_PATH, or print sheet\.html from any/,
      ),
    })
    vi.unstubAllEnvs()
  })

  test('failing leaves no file and says which it was', async () => {
    const broken = await script('broken', 'echo no display >&2; exit 3')
    vi.stubEnv('CHROME_PATH', broken)
    await expect(printPdf('sheet.html', join(folder, 'b.pdf'))).rejects.toMatchObject({
      code: 'PRINT_FAILED',
      message: expect.stringContaining(broken),
    })
    vi.unstubAllEnvs()
  })

  test('that ends well without printing is a failure too', async () => {
    vi.stubEnv('CHROME_PATH', await script('lazy', 'exit 0'))
    await expect(printPdf('sheet.html', join(folder, 'c.pdf'))).rejects.toMatchObject({
      code: 'PRINT_FAILED',
    })
    vi.unstubAllEnvs()
  })
})

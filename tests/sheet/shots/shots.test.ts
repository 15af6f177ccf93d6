import { cp, mkdir, mkdtemp, readdir, readFile, rm, stat, writeFile } from 'node:fs/promises'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { afterAll, beforeAll, describe, expect, test } from 'vitest'
import { writeResultFile } from '../../../src/search/write-result.js'
import type { Choice, Decisions } from '../../../src/sheet/data/decisions.js'
import { searchFingerprint } from '../../../src/sheet/data/fingerprint.js'
import { writeSheet } from '../../../src/sheet/sheet.js'
import { decidedWords, overall } from '../../../src/sheet/shots/document.js'
import { commonFolder, readShot } from '../../../src/sheet/shots/shot.js'
import { writeShots } from '../../../src/sheet/shots/write-shots.js'
import { quaysidePictures, quaysideResult } from '../quayside.js'

/** A borrow and its moments need more than this page shows of them: hides are enough here. */
const result = quaysideResult({ candidates: 3, frames: 2 })

let root: string
beforeAll(async () => {
  root = await mkdtemp(join(tmpdir(), 'offcut-shots-'))
  for (const name of ['sh010', 'sh 020 #1?']) await plant(join(root, 'show', name))
})
afterAll(() => rm(root, { recursive: true }))

async function plant(folder: string, of = result): Promise<void> {
  await mkdir(folder, { recursive: true })
  await writeSheet(folder, of, quaysidePictures(of))
  await writeResultFile(folder, of)
}

function decided(choices: readonly Choice[], search = searchFingerprint(result)): Decisions {
  const { plate, first, last } = result.target
  const decisions = choices.map((decision, i) => ({
    candidate: result.candidates[i].id,
    ...{ decision, note: '', initials: 'KL', at: '2026-03-01T10:00:00.000Z' },
  }))
  return { schema: 'offcut.decisions/1', search, plate, first, last, decisions }
}

describe('the page over several shots', () => {
  const specs = () => [join(root, 'show', 'sh010'), join(root, 'show', 'sh 020 #1?', 'result.json')]

  test('lies in the folder that they share, and its addresses are relative and lead to their sheets', async () => {
    const path = await writeShots(specs())
    expect(path).toBe(join(root, 'show', 'index.html'))
    const html = await readFile(path, 'utf8')
    const links = [...html.matchAll(/<a [^>]*href="([^"]*)"/g)].map(([, href]) => href)
    expect([...new Set(links)]).toEqual(['sh010/sheet.html', 'sh%20020%20%231%3F/sheet.html'])
    for (const link of links) {
      const file = new URL(link, `file://${path}`)
      expect((await stat(file)).isFile()).toBe(true)
    }
    for (const never of [/<script/, /https?:\/\//, /\sstyle="/, /\son[a-z]+="/])
      expect(never.test(html), String(never)).toBe(false)
    const [, policy] = /Content-Security-Policy" content="([^"]*)"/.exec(html)!
    expect(policy).toContain("default-src 'none'")
    expect(policy).toContain("script-src 'none'")
  })

  test("has each one's first repaired picture, the very one of its sheet", async () => {
    const html = await readFile(await writeShots(specs()), 'utf8')
    const sheet = await readFile(join(root, 'show', 'sh010', 'sheet.html'), 'utf8')
    const pictures = [...html.matchAll(/<image href="([^"]*)"/g)].map(([, uri]) => uri)
    const row = sheet.slice(sheet.indexOf('class="row"'))
    const figure = row.slice(row.indexOf('data-view="repaired"'))
    const [, repaired] = /<image href="([^"]*)"/.exec(figure)!
    expect(pictures).toEqual([repaired, repaired])
    expect(repaired.length).toBeGreaterThan(1000)
  })

  test('shows the picture of a plate whose pixels are not square as its sheet does', async () => {
    const folder = join(root, 'squeezed')
    await mkdir(folder)
    await writeSheet(folder, result, quaysidePictures(result), { pixelAspect: 1.25 })
    await writeResultFile(folder, result)
    const [picture, square] = [await readShot(folder, root), await readShot(specs()[0], root)].map(
      (s) => s.picture!,
    )
    expect(picture.uri).toBe(square.uri)
    expect(picture.w / picture.h).toBeCloseTo((1.25 * square.w) / square.h, 3)
  })

  test('counts what a decisions.json beside the sheet says, and leaves out one of another search and says so', async () => {
    const folder = join(root, 'decided')
    for (const name of ['a', 'b', 'c'])
      await cp(join(root, 'show', 'sh010'), join(folder, name), { recursive: true })
    await writeFile(join(folder, 'a', 'decisions.json'), JSON.stringify(decided(['later', 'accept'])))
    await writeFile(join(folder, 'b', 'decisions.json'), JSON.stringify(decided(['accept'], '0'.repeat(16))))
    await writeSheet(join(folder, 'c'), result, quaysidePictures(result), {
      decisions: decided(['reject']),
      overwrite: true,
    })
    const [a, b, c] = await Promise.all(['a', 'b', 'c'].map((name) => readShot(join(folder, name), folder)))
    expect(a.decisions.map(({ decision }) => decision)).toEqual(['later', 'accept'])
    expect(decidedWords(result, a.decisions)).toBe('1 accepted, 1 kept for later, 1 open')
    expect(b.decisions).toEqual([])
    expect(b.remark).toContain('another search')
    // What the sheet itself was written with.
    expect(decidedWords(result, c.decisions)).toBe('1 rejected, 2 open')
    const html = await readFile(await writeShots([join(folder, 'a'), join(folder, 'b')]), 'utf8')
    expect(html).toContain('1 of 2 with an accepted candidate')
    expect(html).toContain('Not counted: ')
    expect(html).toContain('Accepted by KL on 2026-03-01')
  })

  test('replaces itself, and no page of that name that it did not make', async () => {
    const folder = join(root, 'again')
    await cp(join(root, 'show', 'sh010'), join(folder, 'one'), { recursive: true })
    const path = await writeShots([join(folder, 'one')])
    expect(await writeShots([join(folder, 'one')])).toBe(path)
    await writeFile(path, '<!doctype html><title>ours</title>')
    await expect(writeShots([join(folder, 'one')])).rejects.toMatchObject({ code: 'OUTPUT_EXISTS' })
    expect(await readFile(path, 'utf8')).toContain('ours')
    expect(await readdir(folder)).toEqual(['index.html', 'one'])
  })

  test('says which result has no sheet, and which has that of another search', async () => {
    const folder = join(root, 'faults')
    await cp(join(root, 'show', 'sh010'), join(folder, 'bare'), { recursive: true })
    await rm(join(folder, 'bare', 'sheet.html'))
    await cp(join(root, 'show', 'sh010'), join(folder, 'other'), { recursive: true })
    const other = quaysideResult({ candidates: 1, frames: 1 })
    await writeSheet(join(folder, 'other'), other, quaysidePictures(other), { overwrite: true })
    for (const [name, code] of [
      ['bare', 'SHEET_NOT_FOUND'],
      ['other', 'SHEET_OTHER'],
    ]) {
      await expect(writeShots([join(folder, name)])).rejects.toMatchObject({ code, exitCode: 2 })
    }
    await expect(writeShots([join(root, 'show', 'sh010'), `${root}/show/sh010/`])).rejects.toMatchObject({
      code: 'MISUSE',
    })
    expect(await readdir(folder)).toEqual(['bare', 'other'])
  })

  test("is never written into footage's own folder", async () => {
    const folder = join(root, 'plates')
    const of = quaysideResult({ candidates: 1, frames: 1, plate: join(folder, 'quay.####.exr') })
    await plant(join(folder, 'result'), of)
    await expect(writeShots([join(folder, 'result')])).rejects.toMatchObject({ code: 'OUTPUT_IN_FOOTAGE' })
    expect(await readdir(folder)).toEqual(['result'])
  })

  test('says how the first candidates are', () => {
    const shot = (verdicts: number) => {
      const of = quaysideResult({ candidates: verdicts, frames: 1 })
      return { name: '', result: of, sheet: '', picture: null, decisions: [], remark: null }
    }
    expect(overall([shot(1), shot(2)])).toBe('2 hold up')
    expect(overall([shot(1), shot(0)])).toBe('1 holds up, 1 has no candidate')
  })

  test('lies in the parent of one alone, and where all of several meet', () => {
    expect(commonFolder(['/show/a/r'])).toBe('/show/a')
    expect(commonFolder(['/show/a/r', '/show/ab/r'])).toBe('/show')
    expect(commonFolder(['/show/a', '/show/a/b/c'])).toBe('/show')
    expect(commonFolder(['/a', '/b'])).toBe('/')
  })
})

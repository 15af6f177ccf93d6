// The sheet of a real search against the search itself, and its pictures against what was planted.
import { mkdtempSync, rmSync } from 'node:fs'
import { readFile } from 'node:fs/promises'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import sharp from 'sharp'
import { afterAll, beforeAll, describe, expect, test } from 'vitest'
import { MEASURE_KEYS, measureOf } from '../../src/search/measures.js'
import { type Candidate, resultSchema } from '../../src/search/result.js'
import { csvText } from '../../src/sheet/data/csv.js'
import { DATA_ID, framesId, type PageData, TARGETS_ID } from '../../src/sheet/data/page-data.js'
import { writeSheet } from '../../src/sheet/sheet.js'
import { srgbOf } from '../codes.js'
import { BOX, type Searched, searchedPorter, searchedShadow } from './searched.js'

let folder: string
beforeAll(() => {
  folder = mkdtempSync(join(tmpdir(), 'offcut-searched-'))
})
afterAll(() => rmSync(folder, { recursive: true }))

const PATIENCE_MS = 60_000

interface Sheet {
  readonly html: string
  readonly data: PageData
}

async function sheetOf({ result, pictures }: Searched, name: string): Promise<Sheet> {
  await writeSheet(join(folder, name), result, pictures)
  const html = await readFile(join(folder, name, 'sheet.html'), 'utf8')
  return { html, data: JSON.parse(block(html, DATA_ID)) }
}

function block(html: string, id: string): string {
  return new RegExp(`<script id="${id}"[^>]*>([\\s\\S]*?)</script>`).exec(html)![1]
}

function rowOf({ html, data }: Sheet, rank: number): string {
  return new RegExp(`<article[^>]* id="${data.ways[rank].row}"([\\s\\S]*?)</article>`).exec(html)![1]
}

function uriOf(row: string, view: string): string {
  return new RegExp(`<figure data-view="${view}">[\\s\\S]*?href="([^"]*)"`).exec(row)![1]
}

function decoded(base64: string) {
  return sharp(Buffer.from(base64.replace(/^data:[^,]*,/, ''), 'base64'))
    .removeAlpha()
    .raw()
    .toBuffer({ resolveWithObject: true })
}

/** A picture that was drawn is not one grey. */
async function expectDrawn(base64: string, size?: readonly [w: number, h: number]): Promise<void> {
  const { data, info } = await decoded(base64)
  if (size) expect([info.width, info.height]).toEqual(size)
  expect(new Set(data).size).toBeGreaterThan(8)
}

/** Everything that page, CSV and picture say of a search is what it found, whatever its aim. */
function tellsOf(sheet: () => Sheet, searched: () => Searched, name: string): void {
  const candidates = () => searched().result.candidates
  const ids = () => candidates().map((c) => c.id)

  test('the search found something to tell of', () => {
    expect(resultSchema.safeParse(searched().result).error).toBeUndefined()
    expect(candidates().length).toBeGreaterThan(0)
  })

  test('rows, table, data and CSV have the candidates in the order of the search', () => {
    const { html, data } = sheet()
    const rows = data.ways.map((way) => way.row)
    expect(data.ways.map((way) => way.id)).toEqual(ids())
    expect([...html.matchAll(/<article[^>]* id="(way-[^"]*)"/g)].map((m) => m[1])).toEqual(rows)
    expect([...html.matchAll(/<tr data-row="([^"]*)"/g)].map((m) => m[1])).toEqual(rows)
    const lines = csvText(searched().result).split('\r\n').slice(1, -1)
    expect(lines.map((line) => line.split(',')[1].replace(/^'/, ''))).toEqual(ids())
  })

  test('every figure of the table is the measured number, to its last digit', () => {
    const { html, data } = sheet()
    for (const [i, candidate] of candidates().entries()) {
      const [, line] = new RegExp(`<tr data-row="${data.ways[i].row}">(.*?)</tr>`).exec(html)!
      const cells = [...line.matchAll(/<td[^>]*>(.*?)<\/td>/g)].map((m) => m[1].replace(/<[^>]*>/g, ''))
      expect(Number(cells[0])).toBe(i + 1)
      expect(cells[1]).toContain(candidate.verdict)
      expect(Number(cells[2])).toBe(candidate.score)
      for (const [k, key] of MEASURE_KEYS.entries()) expectFigure(cells[3 + k], key, candidate)
    }
  })

  test('the CSV has every number as it was measured, unrounded', () => {
    const [head, ...lines] = csvText(searched().result).split('\r\n')
    const names = head.split(',')
    for (const [i, candidate] of candidates().entries()) {
      const cells = lines[i].split(',')
      for (const key of MEASURE_KEYS) {
        const value = candidate[key]
        expect(cells[names.indexOf(measureOf(key).column)]).toBe(value === null ? '' : String(value))
      }
    }
  })

  test('no picture is missing: every row has its own, every frame of every candidate that plays is there', async () => {
    const { html, data } = sheet()
    for (const rank of data.ways.keys()) {
      const uris = [...rowOf(sheet(), rank).matchAll(/<image href="([^"]*)"/g)].map((m) => m[1])
      expect(uris.length).toBeGreaterThanOrEqual(4)
      for (const uri of uris) await expectDrawn(uri)
    }
    const targets = block(html, TARGETS_ID).split('\n')
    expect(data.targets.map((t) => t.frame)).toEqual(searched().result.target.frames)
    expect(targets).toHaveLength(data.targets.length)
    for (const [k, file] of targets.entries())
      await expectDrawn(file, [data.targets[k].rect[2], data.targets[k].rect[3]])
    for (const [i, way] of data.ways.entries()) {
      const files = block(html, framesId(i)).split('\n')
      const { verdict, frames } = candidates()[i]
      const carried = way.frames.map(([at, donor]) => [data.targets[at].frame, donor])
      const all = frames.map((f) => [f.target, f.donor])
      if (i < 3 || verdict !== 'will not hold') expect(carried).toEqual(all)
      else expect([1, all.filter((f) => f.join() === carried[0].join()).length]).toEqual([carried.length, 1])
      expect(files).toHaveLength(way.frames.length)
      for (const [k, file] of files.entries()) {
        const { box } = data.targets[way.frames[k][0]]
        await expectDrawn(file, [box[2], box[3]])
      }
    }
  })

  test('the PNG has four pictures for every candidate, on grey', async () => {
    const { data, info } = await sharp(join(folder, name, 'sheet.png'))
      .removeAlpha()
      .raw()
      .toBuffer({ resolveWithObject: true })
    const at = (x: number, y: number) => data.subarray(3 * (y * info.width + x)).subarray(0, 3)
    const ground = Buffer.from(at(2, 2))
    // A head of 184 px, a margin of 32 below, rows of one height between them.
    const rowHeight = (info.height - 216) / candidates().length
    expect(rowHeight).toBe(Math.round(rowHeight))
    for (const i of candidates().keys()) {
      const y = 184 + Math.round((i + 0.5) * rowHeight)
      let [pictures, run] = [0, 0]
      for (let x = 0; x < info.width; x++) {
        run = ground.equals(at(x, y)) ? 0 : run + 1
        if (run === 150) pictures++
      }
      expect(pictures, candidates()[i].id).toBe(4)
    }
  })
}

function expectFigure(cell: string, key: (typeof MEASURE_KEYS)[number], candidate: Candidate): void {
  const value = candidate[key]
  const { digits, unit } = measureOf(key)
  if (value === null) expect(cell).toBe('–')
  else {
    const number = unit === '' ? cell : cell.slice(0, -unit.length - 1)
    expect(number).toMatch(new RegExp(`^[−+]?\\d+(\\.\\d{${digits}})$`))
    // Half a unit of the last digit, and what a binary fraction adds to it.
    const read = Number(number.replace('−', '-'))
    expect(Math.abs(read - value), `${candidate.id} ${key}`).toBeLessThanOrEqual(0.500001 * 10 ** -digits)
  }
}

describe('the sheet of a search that hides a porter', { timeout: PATIENCE_MS }, () => {
  let searched: Awaited<ReturnType<typeof searchedPorter>>
  let sheet: Sheet
  beforeAll(async () => {
    searched = await searchedPorter(join(folder, 'porter-plate'))
    sheet = await sheetOf(searched, 'porter')
  }, PATIENCE_MS)
  tellsOf(
    () => sheet,
    () => searched,
    'porter',
  )

  /** Mean difference of a row's picture from the wall as it was planted, in codes of 255, over the region. */
  const off = async (view: string) => {
    const [top] = searched.result.candidates
    const row = rowOf(sheet, 0)
    const shown = Number(/aria-label="Target frame (\d+), mask outlined"/.exec(row)![1])
    const { data, info } = await decoded(uriOf(row, view))
    const { rect } = await searched.pictures.pictures(top, top.frames.find((f) => f.target === shown)!)
    expect([info.width, info.height]).toEqual([rect.w, rect.h])
    const truth = searched.plate.clean(shown)
    let sum = 0
    for (let y = BOX.y; y < BOX.y + BOX.h; y++)
      for (let x = BOX.x; x < BOX.x + BOX.w; x++) {
        const seen = data[3 * ((y - rect.y) * info.width + x - rect.x) + 1]
        sum += Math.abs(seen - 255 * srgbOf(truth[3 * (160 * y + x) + 1]))
      }
    return sum / (BOX.w * BOX.h)
  }

  test('the first row’s target shows the porter, its repaired picture the wall that was planted', async () => {
    expect(searched.result.candidates[0].verdict).toBe('holds up')
    expect(await off('target')).toBeGreaterThan(20)
    expect(await off('repaired')).toBeLessThan(4)
  })
})

describe('the sheet of a search that borrows a shadow', { timeout: PATIENCE_MS }, () => {
  let searched: Searched
  let sheet: Sheet
  beforeAll(async () => {
    searched = await searchedShadow(join(folder, 'shadow-plate'))
    sheet = await sheetOf(searched, 'shadow')
  }, PATIENCE_MS)
  tellsOf(
    () => sheet,
    () => searched,
    'shadow',
  )

  test('whose mask it is larger than says on which edge it is cut off', () => {
    expect(rowOf(sheet, 0).replaceAll(/&#39;|&#x27;|'/g, '’')).toMatch(
      /the light runs on across the mask’s (left|right|left and right) edges? and is cut off there, by up to 0\.\d+ stops over \d+ px/,
    )
  })
})

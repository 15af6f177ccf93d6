import { mkdtemp, readdir, readFile, rm } from 'node:fs/promises'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { afterEach, beforeEach, describe, expect, test } from 'vitest'
import { defuse } from '../../../src/csv.js'
import { csvText, writeCsv } from '../../../src/sheet/data/csv.js'
import { quaysideResult } from '../quayside.js'

let folder: string
beforeEach(async () => {
  folder = await mkdtemp(join(tmpdir(), 'offcut-csv-'))
})
afterEach(() => rm(folder, { recursive: true }))

/** RFC 4180, section 2, read strictly: a field is either quoted with doubled quotes, or holds no quote, comma or break. */
function readStrictly(text: string): string[][] {
  const records: string[][] = [[]]
  const field = /(?:"((?:[^"]|"")*)"|([^",\r\n]*))(,|\r\n|$)/y
  while (field.lastIndex < text.length) {
    const match = field.exec(text)
    if (!match) throw new Error('no field of RFC 4180')
    records[records.length - 1].push(match[1] === undefined ? match[2] : match[1].replaceAll('""', '"'))
    if (match[3] === '\r\n') records.push([])
  }
  if (records[records.length - 1].length === 0) records.pop()
  return records
}

describe('candidates.csv', () => {
  test('has a head line and a line per candidate, best first, every line equally long (RFC 4180)', () => {
    const result = quaysideResult({ candidates: 6 })
    const [head, ...rows] = readStrictly(csvText(result))
    expect(rows).toHaveLength(6)
    for (const row of rows) expect(row).toHaveLength(head.length)
    expect(rows.map((row) => row[head.indexOf('id')])).toEqual(result.candidates.map((c) => c.id))
    expect(Number(rows[2][head.indexOf('seam')])).toBe(result.candidates[2].seam)
  })

  test('leaves the cell of an absent number empty, never null or NaN', () => {
    const result = quaysideResult({ candidates: 4 })
    const [head, ...rows] = readStrictly(csvText(result))
    expect(result.candidates[3].life).toBeNull()
    expect(rows[3][head.indexOf('life')]).toBe('')
  })

  test('keeps commas, quotes and line breaks inside their cell', () => {
    const result = quaysideResult({ candidates: 1, plate: 'quay, "north"\r\nside' })
    const [head, row] = readStrictly(csvText(result))
    expect(row[head.indexOf('donor_plate')]).toBe('quay, "north"\r\nside')
  })

  test('without candidates is the head line alone', () => {
    expect(readStrictly(csvText(quaysideResult({ candidates: 0 })))).toHaveLength(1)
  })

  // The characters are those that OWASP's page on CSV injection lists.
  test.each(['=1+1', '+run', '-run', '@SUM(A1)', '\t=1', '\r=1', '=HYPERLINK("x")'])(
    'a cell that a spreadsheet would run is text: %j',
    (cell) => {
      expect(defuse(cell)).toBe(`'${cell}`)
      const [head, row] = readStrictly(csvText(quaysideResult({ candidates: 1, plate: cell })))
      expect(row[head.indexOf('donor_plate')]).toBe(`'${cell}`)
    },
  )

  test.each(['-0.5', '+3', '-1e-3', '.5', 'quayside', 'a=b'])(
    'a plain number or a plain name stays as it is: %j',
    (cell) => {
      expect(defuse(cell)).toBe(cell)
    },
  )

  test('is not written over an existing file unless told to, and leaves nothing half written', async () => {
    const path = join(folder, 'candidates.csv')
    await writeCsv(path, quaysideResult({ candidates: 1 }))
    await expect(writeCsv(path, quaysideResult({ candidates: 2 }))).rejects.toMatchObject({
      code: 'OUTPUT_EXISTS',
    })
    expect(readStrictly(await readFile(path, 'utf8'))).toHaveLength(2)
    await writeCsv(path, quaysideResult({ candidates: 2 }), { overwrite: true })
    expect(readStrictly(await readFile(path, 'utf8'))).toHaveLength(3)
    expect(await readdir(folder)).toEqual(['candidates.csv'])
  })

  test('into a folder that is not there says so', async () => {
    const path = join(folder, 'nowhere', 'candidates.csv')
    await expect(writeCsv(path, quaysideResult())).rejects.toMatchObject({
      code: 'OUTPUT_UNWRITABLE',
      message: expect.stringContaining(path),
    })
  })
})

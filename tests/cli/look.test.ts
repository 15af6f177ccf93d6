// A show's look: on every picture of the sheet, remembered, and on nothing that is delivered.
import { mkdirSync, mkdtempSync, readdirSync, readFileSync, renameSync, rmSync, writeFileSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import sharp from 'sharp'
import { afterAll, beforeAll, expect, test } from 'vitest'
import { decode, encode } from '../../src/colour/transfer.js'
import { openPlate, readRect } from '../../src/footage/plate.js'
import { writeExr } from '../../src/footage/write/exr.js'
import type { Result } from '../../src/search/result.js'
import { type Planted, plantPlate } from '../synthetic.js'
import { cli, type Shown } from './cli.js'

const root = mkdtempSync(join(tmpdir(), 'offcut-look-'))
afterAll(() => rmSync(root, { recursive: true }))

const negative = join(root, 'negative.cube')
const other = join(root, 'other.cube')
let plate: Planted
const plain = join(root, 'plain')
const looked = join(root, 'looked')

beforeAll(async () => {
  writeFileSync(negative, 'TITLE "negative <b>"\nLUT_1D_SIZE 2\n1 1 1\n0 0 0\n')
  writeFileSync(other, 'LUT_1D_SIZE 2\n0 0 0\n1 1 1\n')
  plate = await plantPlate(join(root, 'plate'), {
    ...{ width: 96, height: 72, frames: 8 },
    occluders: (i) => (i < 3 ? [{ x: 40 + i, y: 28, w: 12, h: 14, light: 0.03 }] : []),
  })
  for (const found of [await find(plain), await find(looked, '--look', negative)])
    expect(found.code, found.stderr).toBe(0)
}, 60_000)

function find(out: string, ...more: string[]): Promise<Shown> {
  return findOn(plate.folder, out, ...more)
}

function findOn(folder: string, out: string, ...more: string[]): Promise<Shown> {
  const options = [
    '--box',
    '38,26,20,20',
    '--frames',
    '1002',
    '--reach',
    '4',
    '--surround',
    '12',
    '--keep',
    '2',
  ]
  return cli('find', folder, ...options, '--out', out, ...more)
}

function resultIn(folder: string): Result {
  return JSON.parse(readFileSync(join(folder, 'result.json'), 'utf8')) as Result
}

/** The first target still of a sheet, as a browser would decode it. */
async function targetStill(folder: string): Promise<Buffer> {
  const html = readFileSync(join(folder, 'sheet.html'), 'utf8')
  const uri = /<figure data-view="target">[\s\S]*?href="data:image\/\w+;base64,([^"]*)"/.exec(html)![1]!
  return sharp(Buffer.from(uri, 'base64')).removeAlpha().raw().toBuffer()
}

/** Mean difference of two stills in codes, the second turned into its negative. */
async function farFromNegative(folder: string, of: string): Promise<number> {
  const [a, b] = [await targetStill(folder), await targetStill(of)]
  expect(a.length).toBe(b.length)
  return a.reduce((sum, v, i) => sum + Math.abs(v - (255 - b[i]!)), 0) / a.length
}

test('a negative look turns the sheet into its negative', async () => {
  // A coded still is off by a code or two; the negative of the plate's wall lies tens of codes away
  expect(await farFromNegative(looked, plain)).toBeLessThan(3)
  expect(await farFromNegative(plain, plain)).toBeGreaterThan(10)
})

test('the sheet says what it is seen through, letter by letter', () => {
  const html = readFileSync(join(looked, 'sheet.html'), 'utf8')
  expect(html).toContain('through the look negative &lt;b>')
  expect(readFileSync(join(plain, 'sheet.html'), 'utf8')).toContain('for an sRGB display')
})

test('the result remembers it, and is otherwise the same', () => {
  const { look, ...rest } = resultIn(looked)
  expect(look).toBe(negative)
  expect(rest).toEqual(resultIn(plain))
})

test('what is delivered does not change by it', async () => {
  const { id } = resultIn(looked).candidates[0]!
  for (const folder of [plain, looked]) {
    const made = await cli('patch', folder, '--pick', id, '--out', join(folder, 'patch'))
    expect(made.code, made.stderr).toBe(0)
  }
  const names = readdirSync(join(plain, 'patch')).filter((name) => name.endsWith('.exr'))
  expect(names).toHaveLength(1)
  for (const name of names)
    expect(readFileSync(join(looked, 'patch', name))).toEqual(readFileSync(join(plain, 'patch', name)))
})

test('a patch is checked through the look of its result, or through another, and is the same files', async () => {
  const { id } = resultIn(looked).candidates[0]!
  const seen: string[] = []
  for (const [name, more] of [
    ['remembered', []],
    ['named', ['--look', other]],
  ] as const) {
    const out = join(root, name)
    const made = await cli('patch', looked, '--pick', id, '--out', out, ...more)
    expect(made.code, made.stderr).toBe(0)
    seen.push(readFileSync(join(out, 'check.html'), 'utf8'))
    for (const file of readdirSync(out).filter((each) => each.endsWith('.exr')))
      expect(readFileSync(join(out, file))).toEqual(readFileSync(join(looked, 'patch', file)))
  }
  expect(seen[0]).toContain('through the look negative &lt;b>')
  expect(seen[1]).toContain('through the look other.cube')
})

test('a sheet that is written again is seen through it again, or through another', async () => {
  const first = readFileSync(join(looked, 'sheet.html'))
  expect((await cli('sheet', looked)).stderr).not.toContain('look')
  expect(readFileSync(join(looked, 'sheet.html')).equals(first)).toBe(true)
  expect((await cli('sheet', plain, '--look', negative)).code).toBe(0)
  expect(await farFromNegative(plain, plain)).toBeGreaterThan(10)
  const [a, b] = [await targetStill(plain), await targetStill(looked)]
  expect(a.equals(b)).toBe(true)
})

test('a look that has gone, or has been broken since, is said on the terminal and on the sheet', async () => {
  const aside = `${negative}.aside`
  renameSync(negative, aside)
  const gone = await cli('sheet', looked)
  expect(gone.code).toBe(0)
  expect(gone.stderr).toContain(`the look ${negative} has gone: pictures are shown without it`)
  const html = readFileSync(join(looked, 'sheet.html'), 'utf8')
  expect(html).toContain(`the look ${negative} has gone`)
  expect(html).toContain('for an sRGB display')
  writeFileSync(negative, 'LUT_1D_SIZE 2\n1 1 1\n')
  expect((await cli('sheet', looked)).stderr).toContain(`the look ${negative} can't be read any more`)
  renameSync(aside, negative)
})

test('a look that is not there is refused before anything is searched', async () => {
  const refused = await find(join(root, 'never'), '--look', join(root, 'no.cube'))
  expect(refused.code).toBe(2)
  expect(refused.stderr).toContain(`${join(root, 'no.cube')} is not there: give the .cube file of the look`)
  const broken = join(root, 'broken.cube')
  writeFileSync(broken, 'LUT_3D_SIZE 2\n0 0\n')
  expect((await cli('sheet', looked, '--look', broken)).stderr).toContain('line 2 is no row of three numbers')
})

test('an EXR plate whose header names other primaries is shown in those of the display', async () => {
  // BT.709 with red and green exchanged: what is stored as red is to be seen as green
  const exchanged = [0.3, 0.6, 0.64, 0.33, 0.15, 0.06, 0.3127, 0.329]
  const shot = await openPlate(plate.folder)
  const window = { x: 0, y: 0, w: shot.width, h: shot.height }
  const folders = [join(root, 'exr'), join(root, 'exr-exchanged')]
  for (const folder of folders) mkdirSync(folder)
  for (const frame of shot.frames) {
    const picture = await readRect(shot, frame, window)
    for (let i = 0; i < picture.data.length; i += 3) picture.data[i + 1]! *= 0.5
    await writeExr(join(folders[0]!, `wall.${frame}.exr`), picture, { displayWindow: window })
    await writeExr(join(folders[1]!, `wall.${frame}.exr`), picture, {
      displayWindow: window,
      chromaticities: exchanged,
    })
  }
  const means: number[][] = []
  for (const folder of folders) {
    const out = `${folder}-found`
    const found = await findOn(folder, out)
    expect(found.code, found.stderr).toBe(0)
    const still = await targetStill(out)
    means.push(
      [0, 1, 2].map((c) => still.reduce((sum, v, i) => sum + (i % 3 === c ? v : 0), 0) / (still.length / 3)),
    )
  }
  const [[r, g, b], [r2, g2, b2]] = means as [number[], number[]]
  expect(Math.abs(g! - 255 * encode(decode(r! / 255, 'srgb') / 2, 'srgb'))).toBeLessThan(4)
  expect(
    [r2, g2, b2].every((v, c) => Math.abs(v! - [g!, r!, b!][c]!) < 2),
    `${means}`,
  ).toBe(true)
})

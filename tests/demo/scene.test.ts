// The demo footage as files: the same seed gives the same bytes, nothing is written over, nothing is left half.
import { mkdtemp, readdir, readFile, rm, writeFile } from 'node:fs/promises'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import sharp from 'sharp'
import { afterAll, beforeAll, expect, test } from 'vitest'
import { renderMarket, renderScene, type SceneTruth } from '../../src/demo/scene.js'

const SMALL = { seed: 5, width: 96, height: 54, frames: 6 }
let root: string
let truth: SceneTruth

beforeAll(async () => {
  root = await mkdtemp(join(tmpdir(), 'offcut-scene-'))
  truth = await renderScene(join(root, 'a'), SMALL)
})
afterAll(() => rm(root, { recursive: true, force: true }))

async function everyFile(folder: string): Promise<Map<string, string>> {
  const names = await readdir(folder, { recursive: true, withFileTypes: true })
  const files = names.filter((entry) => entry.isFile()).map((entry) => join(entry.parentPath, entry.name))
  const out = new Map<string, string>()
  for (const path of files.sort())
    out.set(path.slice(folder.length), (await readFile(path)).toString('base64'))
  return out
}

test('the same seed gives the same bytes, whatever was rendered in between', async () => {
  await renderScene(join(root, 'other'), { ...SMALL, seed: 6 })
  await renderScene(join(root, 'b'), SMALL)
  const a = await everyFile(join(root, 'a'))
  expect(await everyFile(join(root, 'b'))).toEqual(a)
  const other = await everyFile(join(root, 'other'))
  expect([...other.keys()].filter((name) => name.startsWith('/plate/'))).toHaveLength(6)
  for (const [name, bytes] of other) if (name.startsWith('/plate/')) expect(bytes, name).not.toBe(a.get(name))
})

test('the truth on disk is the truth returned, and every file it names is there', async () => {
  expect(JSON.parse(await readFile(join(root, 'a', 'truth.json'), 'utf8'))).toEqual(truth)
  const files = await everyFile(join(root, 'a'))
  const { hide, plate } = truth
  const expected = [hide.stillMask, truth.shadow.mask, truth.reflection.mask, 'truth.json']
  for (let f = plate.first; f <= plate.last; f++) expected.push(plate.pattern.replace('####', String(f)))
  for (let f = hide.first; f <= hide.last; f++) expected.push(hide.mask.replace('####', String(f)))
  expect([...files.keys()].map((name) => name.slice(1)).sort()).toEqual(expected.sort())
})

test('market day has its own frames, one mask and a truth that names them', async () => {
  const folder = join(root, 'market')
  const market = await renderMarket(folder, SMALL)
  expect(JSON.parse(await readFile(join(folder, 'truth.json'), 'utf8'))).toEqual(market)
  const frames = [1, 2, 3, 4, 5, 6].map((n) => `/plate/market.100${n}.png`)
  const expected = [...frames, `/${market.hide.stillMask}`, '/truth.json']
  expect([...(await everyFile(folder)).keys()].sort()).toEqual(expected.sort())
})

test('frames are 16-bit RGB and masks 8-bit grey, all of the plate’s size', async () => {
  const frame = await sharp(join(root, 'a', 'plate', 'quay.1001.png')).metadata()
  expect(frame).toMatchObject({ width: 96, height: 54, channels: 3, depth: 'ushort', space: 'rgb16' })
  const mask = await sharp(join(root, 'a', truth.hide.stillMask)).metadata()
  expect(mask).toMatchObject({ width: 96, height: 54, channels: 1, depth: 'uchar', hasAlpha: false })
  const svg = await sharp(join(root, 'a', truth.shadow.mask)).metadata()
  expect(svg).toMatchObject({ width: 96, height: 54 })
})

test('a folder that holds a frame already is refused, and is written over when that is allowed', async () => {
  const before = await everyFile(join(root, 'a'))
  await expect(renderScene(join(root, 'a'), SMALL)).rejects.toMatchObject({
    code: 'FILE_EXISTS',
    message: expect.stringContaining('quay.1001.png is there already'),
  })
  await renderScene(join(root, 'a'), SMALL, { overwrite: true })
  expect(await everyFile(join(root, 'a'))).toEqual(before)
})

test('a frame of a longer plate is never left among the new ones', async () => {
  const folder = join(root, 'longer')
  await renderScene(folder, SMALL)
  await writeFile(join(folder, 'plate', 'quay.1007.png'), 'left over')
  await expect(renderScene(folder, SMALL, { overwrite: true })).rejects.toMatchObject({
    code: 'FILE_EXISTS',
    message: expect.stringContaining('quay.1007.png is no frame of the plate 1001 to 1006'),
  })
})

test('an interrupted rendering leaves whole frames, no truth and no draft, and can be run again', async () => {
  const folder = join(root, 'interrupted')
  const stop = new AbortController()
  const onProgress = ({ done }: { done: number }) => {
    if (done === 2) stop.abort()
  }
  await expect(renderScene(folder, SMALL, { onProgress, signal: stop.signal })).rejects.toMatchObject({
    name: 'AbortError',
  })
  const left = await readdir(join(folder, 'plate'))
  expect(left.length).toBeGreaterThanOrEqual(2)
  expect(left.length).toBeLessThan(6)
  for (const name of left) {
    expect(await readFile(join(folder, 'plate', name))).toEqual(
      await readFile(join(root, 'a', 'plate', name)),
    )
  }
  expect(await readdir(folder)).not.toContain('truth.json')
  await renderScene(folder, SMALL, { overwrite: true })
  expect(await everyFile(folder)).toEqual(await everyFile(join(root, 'a')))
})

const refused = [
  {
    title: 'half a pixel',
    options: { width: 96.5 },
    says: 'width takes a whole number from 48 to 8192, got 96.5',
  },
  { title: 'no height', options: { height: 0 }, says: 'height takes a whole number from 27 to 8192, got 0' },
  { title: 'no frames', options: { frames: 0 }, says: 'frames takes a whole number from 1 to 10000, got 0' },
  {
    title: 'a seed below zero',
    options: { seed: -1 },
    says: 'seed takes a whole number from 0 to 2147483647, got -1',
  },
]
for (const { title, options, says } of refused) {
  test(`${title} is refused before anything is written`, async () => {
    const folder = join(root, 'refused')
    await expect(renderScene(folder, options)).rejects.toMatchObject({
      code: 'MISUSE',
      exitCode: 2,
      message: says,
    })
    await expect(readdir(folder)).rejects.toMatchObject({ code: 'ENOENT' })
  })
}

test('progress counts every frame once', async () => {
  const seen: number[] = []
  await renderScene(join(root, 'counted'), SMALL, {
    onProgress: ({ done, total }) => seen.push(done * 100 + total),
  })
  expect(seen).toEqual([106, 206, 306, 406, 506, 606])
})

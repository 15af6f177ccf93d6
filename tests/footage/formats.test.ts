// One plate stored in every still format is one plate in linear light, and each format's code is loaded only when used.
import { execFileSync } from 'node:child_process'
import { join } from 'node:path'
import { fileURLToPath } from 'node:url'
import sharp from 'sharp'
import { describe, expect, test } from 'vitest'
import { encode } from '../../src/colour/transfer.js'
import { openPlate, readRect } from '../../src/footage/plate.js'
import { FRAME_EXTENSIONS, readerFor } from '../../src/footage/readers.js'
import { freshFolder } from './folder.js'

const [WIDTH, HEIGHT] = [24, 16]
const light = (i: number): number => ((i * 37) % 101) / 101

describe('one plate in several formats', () => {
  test('16-bit PNG, striped and tiled TIFF give the same light', async () => {
    const linear = Float32Array.from({ length: WIDTH * HEIGHT * 3 }, (_, i) => light(i))
    const codes = Uint16Array.from(linear, (l) => Math.round(encode(l, 'srgb') * 65535))
    const raw = { raw: { width: WIDTH, height: HEIGHT, channels: 3 as const } }
    const deep = sharp(codes, raw).toColourspace('rgb16')
    const folder = await freshFolder()
    await deep.clone().png().toFile(join(folder, 'a.1001.png'))
    await deep.clone().tiff({ compression: 'lzw' }).toFile(join(folder, 'b.1001.tif'))
    await deep
      .clone()
      .tiff({ compression: 'deflate', tile: true, tileWidth: 16, tileHeight: 16 })
      .toFile(join(folder, 'c.1001.tiff'))
    for (const name of ['a.1001.png', 'b.1001.tif', 'c.1001.tiff']) {
      const plate = await openPlate(join(folder, name))
      expect(plate).toMatchObject({ bitDepth: '16-bit', encoding: 'srgb' })
      const picture = await readRect(plate, 1001, { x: 0, y: 0, w: WIDTH, h: HEIGHT })
      // half a code value of sRGB where it is steepest, near white: 2.27 / 2 / 65535
      for (let i = 0; i < linear.length; i++)
        expect(Math.abs(picture.data[i]! - linear[i]!)).toBeLessThan(2e-5)
    }
  })
})

describe('readers', () => {
  test('every frame ending has one, upper case too; other endings have none', async () => {
    for (const ending of FRAME_EXTENSIONS) {
      const reader = await readerFor(`quay.1001.${ending.toUpperCase()}`)
      expect(reader?.formats, ending).toContain(ending)
    }
    for (const name of ['quay.mov', 'notes.txt', 'png', '.png', '']) expect(await readerFor(name)).toBeNull()
  })

  test('reading a PNG plate loads neither the EXR nor the DPX code', () => {
    // a process of its own, as this one may have loaded them for another test
    const source = fileURLToPath(new URL('../../src/footage/', import.meta.url))
    const script = `
      import { build } from 'esbuild'
      const made = await build({
        entryPoints: [${JSON.stringify(join(source, 'plate.ts'))}],
        bundle: true, write: false, outdir: 'out', splitting: true, metafile: true,
        format: 'esm', platform: 'node', packages: 'external', logLevel: 'silent',
      })
      const outputs = made.metafile.outputs
      const entry = Object.keys(outputs).find((name) => outputs[name].entryPoint?.endsWith('plate.ts'))
      const seen = new Set()
      const visit = (name) => {
        if (seen.has(name)) return
        seen.add(name)
        for (const { path, kind } of outputs[name]?.imports ?? []) if (kind === 'import-statement') visit(path)
      }
      visit(entry)
      const inputs = [...seen].flatMap((name) => Object.keys(outputs[name]?.inputs ?? {}))
      console.log(JSON.stringify(inputs.map((path) => path.split('/').at(-1))))
    `
    const loaded = JSON.parse(
      execFileSync(process.execPath, ['--input-type=module', '-e', script], { encoding: 'utf8' }),
    ) as string[]
    expect(loaded).toContain('plate.ts')
    expect(loaded).toContain('readers.ts')
    expect(loaded.filter((name) => /^(exr|dpx|stills|movie)/.test(name))).toEqual([])
  })
})

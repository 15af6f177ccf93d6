// Which files' blocks may be taken over as they lie: those that writeExr would have written the same way.
import { mkdtempSync, rmSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { fileURLToPath } from 'node:url'
import { afterAll, expect, test } from 'vitest'
import { readStored } from '../../../src/footage/exr/stored.js'
import { writeExr } from '../../../src/footage/write/exr.js'
import { frame } from '../../../src/raster/frame.js'

const folder = mkdtempSync(join(tmpdir(), 'offcut-stored-'))
afterAll(() => rmSync(folder, { recursive: true }))

const displayWindow = { x: -5, y: 7, w: 20, h: 40 }

test.each([3, 4] as const)(
  'a file of ours with %i channels has its blocks, from the top',
  async (channels) => {
    const path = join(folder, `${channels}.exr`)
    await writeExr(path, frame(40, 20, channels), { displayWindow })
    const stored = await readStored(path, undefined)
    expect(stored).toMatchObject({ width: 20, height: 40, channels })
    expect(stored!.blocks).toHaveLength(3)
  },
)

test('one of floats, unpacked, or smaller than its display window has none', async () => {
  const options = {
    float: { pixelType: 'float' },
    plain: { compression: 'none' },
    part: { origin: { x: -5, y: 8 } },
  } as const
  for (const [name, more] of Object.entries(options)) {
    const path = join(folder, `${name}.exr`)
    await writeExr(path, frame(name === 'part' ? 39 : 40, 20, 3), { displayWindow, ...more })
    expect(await readStored(path, undefined), name).toBeNull()
  }
})

// by OpenEXR itself, see fixtures/README.md
test.each([
  'half-zips',
  'half-piz',
  'tiled-zip',
  'float-zip',
  'chroma-zip',
  'window-offset',
  'window-larger',
  'luminance',
])('%s, which is laid out otherwise, has none', async (name) => {
  const path = fileURLToPath(new URL(`../../../fixtures/exr/${name}.exr`, import.meta.url))
  expect(await readStored(path, undefined)).toBeNull()
})

test('a layer of several is not all that the file holds', async () => {
  const path = fileURLToPath(new URL('../../../fixtures/exr/layers-zip.exr', import.meta.url))
  expect(await readStored(path, 'quay')).toBeNull()
})

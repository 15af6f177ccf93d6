// Codes through a table are the codes that `read` gives as shares of the full scale, however a file packs them. That these
// are right is in reader.test.ts.
import { readdirSync } from 'node:fs'
import { expect, test } from 'vitest'
import { dpxReader } from '../../../src/footage/dpx/reader.js'

const names = readdirSync('fixtures/dpx').filter((name) => name.endsWith('.dpx'))

test('every DPX gives the same codes through a table as without', async () => {
  let tenBits = 0
  for (const name of names) {
    const path = `fixtures/dpx/${name}`
    const { width, height, bitDepth } = await dpxReader.probe(path)
    const scale = 2 ** Number.parseInt(bitDepth, 10) - 1
    if (scale === 1023) tenBits++
    // backwards, so that an entry of the table is not taken for the code itself
    const table = Uint16Array.from({ length: scale + 1 }, (_, code) => scale - code)
    const rect = { x: 1, y: 2, w: width - 3, h: height - 4 }
    const { data } = await dpxReader.read(path, rect)
    const through = await dpxReader.readThrough!(path, rect, table)
    expect([...through], name).toEqual([...data].map((share) => scale - Math.round(scale * share)))
  }
  expect(tenBits).toBeGreaterThan(2)
})

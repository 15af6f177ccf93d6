// Looks against OpenColorIO's own reading of the same files, by fixtures/look/make.py.
import { readFileSync } from 'node:fs'
import { fileURLToPath } from 'node:url'
import { expect, test } from 'vitest'
import { applyLook } from '../../src/colour/look/apply-look.js'
import { readLook } from '../../src/colour/look/read-look.js'

const folder = new URL('../../fixtures/look/', import.meta.url)
const { colours, looks } = JSON.parse(readFileSync(new URL('looks.json', folder), 'utf8')) as {
  colours: readonly (readonly number[])[]
  looks: Readonly<Record<string, readonly (readonly number[])[]>>
}

test('four looks have a reference: a cube, one of another domain, curves, and both', () =>
  expect(Object.keys(looks)).toEqual(['cube', 'cube-domain', 'curves', 'curves-and-cube']))

test.each(Object.entries(looks))('%s does to colours what OpenColorIO does', async (name, wanted) => {
  const look = await readLook(fileURLToPath(new URL(`${name}.cube`, folder)))
  const rgb = Float32Array.from(colours.flat())
  applyLook(look, rgb)
  for (const [i, colour] of colours.entries())
    for (let c = 0; c < 3; c++)
      // it prints seven digits of a float32
      expect(Math.abs(rgb[3 * i + c]! - wanted[i]![c]!), `${colour}`).toBeLessThan(2e-6)
})

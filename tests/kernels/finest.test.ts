// The finest of a donor in the place of what is lent, against the same told straight in doubles, to the last bit.
import { expect, test } from 'vitest'
import { addFinest, commonPixels, finestOf, type Planes } from '../../src/kernels/finest.js'
import { Workspace } from '../../src/kernels/workspace.js'
import { randomFrom } from '../random.js'

const workspace = new Workspace()

test.each([1, 3, 4, 7, 64, 1021])('of %i pixels', (length) => {
  const random = randomFrom(`finest ${length}`)
  const plane = (scale = 1) => Float32Array.from({ length }, () => scale * random())
  const bytes = () => Uint8Array.from({ length }, () => (random() < 0.8 ? 1 : 0))
  const [inside, there, also] = [plane().map((v) => Math.max(0, v - 0.4)), bytes(), bytes()]
  const counts = plane()
  commonPixels(workspace, inside, there, also, counts)
  expect([...counts]).toEqual(
    Array.from(inside, (v, i) => (v > 0 && there[i] === 1 && also[i] === 1 ? 1 : 0)),
  )

  const [own, donor] = [0, 1].map(() => Float32Array.from({ length: 3 * length }, () => random()))
  const planes = (made: () => Float32Array): Planes => [made(), made(), made()]
  const [light, around, more] = [planes(() => plane(0.1)), plane().map((v) => v + 0.1), planes(() => plane())]
  const [first, change] = [own.slice(), 1.3]
  finestOf(workspace, own, donor, counts, change, more)
  for (const channel of [0, 1, 2] as const) {
    const off = (i: number) => change * (donor[3 * i + channel]! - first[3 * i + channel]!)
    expect([...more[channel]]).toEqual(Array.from(counts, (v, i) => (v === 1 ? Math.fround(off(i)) : 0)))
  }
  addFinest(workspace, more, light, around, counts, own)
  for (let i = 0; i < length; i++)
    for (let c = 0; c < 3; c++) {
      const j = 3 * i + c
      const added = more[c]![i]! - light[c]![i]! / around[i]!
      expect(own[j]).toBe(counts[i] === 1 ? Math.fround(first[j]! + added) : first[j])
    }
})

import { expect, test } from 'vitest'
import { markHoles, putChannel, takeChannel } from '../../src/kernels/channels.js'
import { Workspace } from '../../src/kernels/workspace.js'

const PIXELS = 101
const picture = Float32Array.from({ length: 3 * PIXELS }, (_, i) => (i * 7919) % 1009)

test('a channel that is taken out and put back into another picture is the same there, and the others are untouched', () => {
  const workspace = new Workspace()
  const own = new Float32Array(PIXELS)
  const other = picture.map((v) => -v)
  for (const c of [0, 1, 2]) {
    takeChannel(workspace, picture, c, own)
    expect(own).toEqual(picture.filter((_, i) => i % 3 === c))
    const into = other.slice()
    putChannel(workspace, own, c, into)
    expect(into).toEqual(other.map((v, i) => (i % 3 === c ? picture[i] : v)))
  }
  workspace.close()
})

test('pixels with a sample that is not finite are holes, however bright or dark the others', () => {
  const workspace = new Workspace()
  const holed = picture.slice()
  holed[3 * 4 + 1] = Number.NaN
  holed[3 * 50] = Number.POSITIVE_INFINITY
  holed[3 * 100 + 2] = Number.NEGATIVE_INFINITY
  holed[3 * 7] = 3.4e38
  holed[3 * 7 + 1] = 3.4e38
  const holes = new Uint8Array(PIXELS)
  expect(markHoles(workspace, holed, holes)).toBe(3)
  expect([...holes.keys()].filter((i) => holes[i] === 1)).toEqual([4, 50, 100])
  workspace.close()
})

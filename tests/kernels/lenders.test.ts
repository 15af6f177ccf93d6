// Distances of donors against plain loops in double precision, to the last bit.
import { expect, test } from 'vitest'
import { likelyWithout, tileDistances } from '../../src/kernels/lenders.js'
import { Workspace } from '../../src/kernels/workspace.js'
import { normal, randomFrom } from '../random.js'

const workspace = new Workspace()
const LEAST = 5e-5

test.each([
  { width: 1, height: 1, tile: 12 },
  { width: 31, height: 17, tile: 5 },
  { width: 64, height: 40, tile: 12 },
])('a donor over $width x $height pixels is as far from what is likely as it says', (size) => {
  const { width, height, tile } = size
  const random = randomFrom(`lenders ${width}`)
  const all = { length: width * height }
  const aligned = Float32Array.from(all, () => normal(random) - 3)
  const dirt = Uint8Array.from(all, () => (random() < 0.2 ? 1 : 0))
  const exposure = 0.1 + 1e-9
  const frame = { aligned, exposure, dirt }
  // Some pixels have no witness but this one, and some none at all.
  const rank = 3
  const said = 0.25
  const lastRank = Int32Array.from(all, () => Math.floor(6 * random()))
  const others = Float64Array.from(all, () => (random() < 0.7 ? random() : 0))
  const isHeard = (i: number) => dirt[i] === 0 && rank <= lastRank[i]
  const weights = others.map((w, i) => w + (isHeard(i) ? said : 0))
  const sums = others.map(
    (w, i) => w * (normal(random) - 3) + (isHeard(i) ? said * (aligned[i] + exposure) : 0),
  )
  const level = Float32Array.from(all, () => normal(random) - 3)
  const across = Math.ceil(width / tile)
  const pixels = Int32Array.from([...aligned.keys()].filter(() => random() < 0.9 || width === 1))
  const tileOf = pixels.map(
    (i) => Math.floor(Math.floor(i / width) / tile) * across + Math.floor((i % width) / tile),
  )

  const likely = new Float64Array(pixels.length)
  const witnesses = { sums, weights, lastRank, level }
  likelyWithout(workspace, witnesses, frame, { rank, said }, LEAST, pixels, likely)
  const straight = Array.from(pixels, (i) => {
    const mine = isHeard(i) ? said : 0
    const weight = weights[i] - mine
    return weight > LEAST ? (sums[i] - mine * (aligned[i] + exposure)) / weight : level[i]
  })
  expect([...likely]).toEqual(straight)

  const tiles = across * Math.ceil(height / tile)
  const found = {
    own: new Float32Array(tiles).fill(9),
    all: new Float32Array(tiles),
    dirty: new Int32Array(tiles),
  }
  const unit = 1 / 0.013 ** 2
  tileDistances(workspace, frame, likely, unit, pixels, tileOf, found)
  const told = { own: new Float32Array(tiles), all: new Float32Array(tiles), dirty: new Int32Array(tiles) }
  for (const [k, i] of pixels.entries()) {
    const off = aligned[i] + exposure - likely[k]
    told.all[tileOf[k]] += off * off * unit
    if (dirt[i] === 1) told.dirty[tileOf[k]]++
    else told.own[tileOf[k]] += off * off * unit
  }
  expect(found).toEqual(told)
})

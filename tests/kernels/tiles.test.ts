import { expect, test } from 'vitest'
import {
  addChannelPower,
  addTilePower,
  type Counted,
  TILE_PX,
  tileDifferences,
  tileProducts,
} from '../../src/kernels/tiles.js'
import { Workspace } from '../../src/kernels/workspace.js'

const PIXELS = TILE_PX * TILE_PX

/** A generator of its own, so that a case is the same each time (D. Knuth, MMIX's constants). */
function noise(seed: number): () => number {
  let state = BigInt(seed)
  return () => {
    state = (state * 6364136223846793005n + 1442695040888963407n) & 0xffffffffffffffffn
    return Number(state >> 40n) / 2 ** 24
  }
}

function counted(tiles: number, skipped: number): Counted {
  const random = noise(tiles + skipped)
  return {
    samples: Float64Array.from({ length: 3 * PIXELS * tiles }, () => random() - 0.5),
    counts: Uint8Array.from({ length: tiles }, (_, t) => (t === skipped ? 0 : 1)),
    scale: Float64Array.from({ length: 3 * tiles }, () => 0.5 + random()),
  }
}

test('what two frames differ by over tiles is what the formulas give, wherever the tiles lie', () => {
  const workspace = new Workspace()
  const [width, height] = [37, 41]
  const random = noise(3)
  const picture = () => Float32Array.from({ length: 3 * width * height }, random)
  const [one, two] = [picture(), picture()]
  // The last is black in the second frame, whose light tells no gain.
  const corners = Int32Array.of(0, 5 * width + 7, 25 * width + 21)
  for (let y = 0; y < TILE_PX; y++)
    two.fill(0, 3 * (corners[2] + y * width), 3 * (corners[2] + y * width + TILE_PX))
  const [light, variance] = [new Float64Array(9), new Float64Array(9)]
  const samples = new Float64Array(3 * PIXELS * corners.length)
  tileDifferences(workspace, one, two, { corners, width }, samples, light, variance)
  for (const [t, corner] of corners.entries())
    for (let c = 0; c < 3; c++) {
      const at = (i: number) => 3 * (corner + Math.floor(i / TILE_PX) * width + (i % TILE_PX)) + c
      const all = Array.from({ length: PIXELS }, (_, i) => [one[at(i)], two[at(i)]])
      const sum = (of: number[]) => of.reduce((total, v) => total + v, 0)
      const [a, b] = [sum(all.map(([v]) => v)), sum(all.map(([, v]) => v))]
      const gain = b > 0 ? a / b : 1
      const wanted = all.map(([v, w]) => (v - gain * w) / Math.SQRT2)
      for (const [i, v] of wanted.entries()) expect(samples[(3 * t + c) * PIXELS + i]).toBeCloseTo(v, 14)
      expect(light[3 * t + c]).toBeCloseTo((a + b) / (2 * PIXELS), 14)
      expect(variance[3 * t + c]).toBeCloseTo(sum(wanted.map((v) => v * v)) / PIXELS, 14)
    }
  workspace.close()
})

test('products of channels are summed over the tiles that count, each at its strength', () => {
  const workspace = new Workspace()
  const tiles = counted(5, 2)
  const sums = new Float64Array(9).fill(1)
  tileProducts(workspace, tiles, sums)
  for (let a = 0; a < 3; a++)
    for (let b = 0; b < 3; b++) {
      let wanted = 1
      for (const t of [0, 1, 3, 4])
        for (let i = 0; i < PIXELS; i++)
          wanted +=
            tiles.samples[(3 * t + a) * PIXELS + i] *
            tiles.scale[3 * t + a] *
            tiles.samples[(3 * t + b) * PIXELS + i] *
            tiles.scale[3 * t + b]
      expect(sums[3 * a + b]).toBeCloseTo(wanted, 11)
    }
  workspace.close()
})

test('the power of mixed channels is that of the discrete Fourier transform, written out', () => {
  const workspace = new Workspace()
  const tiles = counted(3, 1)
  const random = noise(9)
  const mix = Float64Array.from({ length: 9 }, () => random() - 0.5)
  const window = Float64Array.from({ length: PIXELS }, random)
  const spectra = new Float64Array(3 * PIXELS).fill(0.25)
  addTilePower(workspace, tiles, mix, window, spectra)
  for (let j = 0; j < 3; j++)
    for (let v = 0; v < TILE_PX; v++)
      for (let u = 0; u < TILE_PX; u++) {
        let wanted = 0.25
        for (const t of [0, 2]) {
          let [re, im] = [0, 0]
          for (let y = 0, i = 0; y < TILE_PX; y++)
            for (let x = 0; x < TILE_PX; x++, i++) {
              let sample = 0
              for (let c = 0; c < 3; c++)
                sample += mix[3 * j + c] * tiles.scale[3 * t + c] * tiles.samples[(3 * t + c) * PIXELS + i]
              const angle = (-2 * Math.PI * (u * x + v * y)) / TILE_PX
              re += sample * window[i] * Math.cos(angle)
              im += sample * window[i] * Math.sin(angle)
            }
          wanted += (re * re + im * im) / PIXELS
        }
        expect(spectra[j * PIXELS + v * TILE_PX + u]).toBeCloseTo(wanted, 12)
      }
  workspace.close()
})

test('the power of a channel of tiles of a picture is that of a plain transform, with each tile’s mean taken out', () => {
  const workspace = new Workspace()
  const [width, height] = [29, 33]
  const random = noise(11)
  const picture = Float32Array.from({ length: 3 * width * height }, () => 0.3 + 0.1 * random())
  const corners = Int32Array.of(0, 3 * width + 11, 17 * width + 13)
  const window = Float64Array.from({ length: PIXELS }, (_, i) => 0.5 + ((i * 7) % 13) / 13)
  for (const channel of [0, 1, 2] as const) {
    const found = new Float64Array(PIXELS)
    addChannelPower(workspace, picture, channel, { corners, width }, window, found)
    const wanted = new Float64Array(PIXELS)
    for (const corner of corners) {
      const at = (i: number) => 3 * (corner + Math.floor(i / TILE_PX) * width + (i % TILE_PX)) + channel
      const tile = Float64Array.from({ length: PIXELS }, (_, i) => picture[at(i)])
      const mean = tile.reduce((sum, v) => sum + v, 0) / PIXELS
      for (let v = 0; v < TILE_PX; v++)
        for (let u = 0; u < TILE_PX; u++) {
          let [re, im] = [0, 0]
          for (let i = 0; i < PIXELS; i++) {
            const turn = (-2 * Math.PI * (u * (i % TILE_PX) + v * Math.floor(i / TILE_PX))) / TILE_PX
            re += (tile[i] - mean) * window[i] * Math.cos(turn)
            im += (tile[i] - mean) * window[i] * Math.sin(turn)
          }
          wanted[v * TILE_PX + u] += (re * re + im * im) / PIXELS
        }
    }
    for (const [i, v] of wanted.entries()) expect(found[i]).toBeCloseTo(v, 12)
  }
  workspace.close()
})

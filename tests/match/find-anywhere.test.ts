// Another take of the same wall: nearer, further, rolled and elsewhere; the truth is a formula's.
import { describe, expect, it } from 'vitest'
import { Workspace } from '../../src/kernels/workspace.js'
import { AnywhereFinder, bestOfTries, type Sought } from '../../src/match/find-anywhere.js'
import { Fourier } from '../../src/match/fourier.js'
import { planarDonor, preparePlanar } from '../../src/match/planar-picture.js'
import { plane } from '../../src/raster/plane.js'
import { apply, IDENTITY, type Transform } from '../../src/raster/transform.js'
import { roughWall } from '../rough-wall.js'
import { normal, random } from '../synthetic.js'

const workspace = new Workspace()

/** @param toReference takes its pixels to the reference's */
function take(width: number, height: number, toReference: Transform, key: number, stops = 0): Sought {
  const picture = plane(0, 0, width, height)
  const next = normal(key)
  for (let y = 0, i = 0; y < height; y++)
    for (let x = 0; x < width; x++, i++) {
      const p = apply(toReference, x, y)
      picture.data[i] = roughWall(p.x, p.y) + stops + 0.03 * next()
    }
  return { picture, known: new Uint8Array(width * height).fill(1) }
}

function similarity(size: number, turn: number, x: number, y: number): Transform {
  const [c, s] = [size * Math.cos(turn), size * Math.sin(turn)]
  return [c, -s, x, s, c, y, 0, 0, 1]
}

describe('correlation at all offsets by Fourier transforms', () => {
  it('is what the sums say, pixel by pixel, with parts left out of both', () => {
    const even = random(5)
    const some = () => {
      const picture = plane(0, 0, 13, 11)
      const counts = new Uint8Array(13 * 11)
      for (let i = 0; i < counts.length; i++) {
        picture.data[i] = even()
        counts[i] = even() < 0.8 ? 1 : 0
      }
      return { picture, counts }
    }
    const [a, b] = [some(), some()]
    const fourier = Fourier.forPictures(26, 22)
    const spectra = [a, b].map(({ picture, counts }) => fourier.spectraOf(picture, counts))
    const found = fourier.correlate(spectra[0], spectra[1], 20)
    for (const [dx, dy] of [
      [0, 0],
      [3, -2],
      [-5, 4],
    ]) {
      const pairs: [number, number][] = []
      for (let y = 0; y < 11; y++)
        for (let x = 0; x < 13; x++) {
          const [u, v] = [x - dx, y - dy]
          if (u < 0 || v < 0 || u >= 13 || v >= 11) continue
          if (a.counts[y * 13 + x] === 1 && b.counts[v * 13 + u] === 1)
            pairs.push([a.picture.data[y * 13 + x], b.picture.data[v * 13 + u]])
        }
      const mean = (k: 0 | 1) => pairs.reduce((sum, p) => sum + p[k], 0) / pairs.length
      const [ma, mb] = [mean(0), mean(1)]
      const sum = (of: (p: [number, number]) => number) => pairs.reduce((s, p) => s + of(p), 0)
      const ncc =
        sum((p) => (p[0] - ma) * (p[1] - mb)) /
        Math.sqrt(sum((p) => (p[0] - ma) ** 2) * sum((p) => (p[1] - mb) ** 2))
      const at =
        ((dy + fourier.height) % fourier.height) * fourier.width + ((dx + fourier.width) % fourier.width)
      expect(found[at]).toBeCloseTo(ncc, 6)
    }
  })
})

describe('another take is found', () => {
  const reference = take(320, 240, IDENTITY, 1)
  const finder = new AnywhereFinder(workspace, reference)
  const prepared = preparePlanar(workspace, reference.picture, new Float32Array(320 * 240).fill(1))!
  const cases: [string, number, number, Transform, number][] = [
    ['a little wider, moved and darker', 320, 240, similarity(1 / 0.92, 0.01, -20, 14), -0.6],
    ['much nearer, rolled', 320, 240, similarity(0.6, -0.06, 70, 60), 0.4],
    ['of twice the size', 640, 480, similarity(0.5, 0, 9, -6), 0],
    ['of the same size, far to the side', 320, 240, similarity(1, 0, 130, 40), 0],
  ]
  for (const [what, width, height, truth, stops] of cases) {
    it(what, () => {
      const donor = take(width, height, truth, 2, stops)
      const tries = finder.tries(donor)
      const laid = bestOfTries(
        prepared,
        planarDonor(workspace, donor.picture, donor.known, prepared.knee),
        tries,
        0.3,
      )
      expect(laid).not.toBeNull()
      for (const [x, y] of [
        [width / 2, height / 2],
        [width / 2 + 40, height / 2 - 40],
      ]) {
        const [p, q] = [apply(laid!.transform, x, y), apply(truth, x, y)]
        expect(Math.hypot(p.x - q.x, p.y - q.y)).toBeLessThan(0.1)
      }
    })
  }

  it('and another place is told from it', () => {
    const elsewhere = take(320, 240, similarity(1, 0, 5000, 3000), 3)
    const laid = bestOfTries(
      prepared,
      planarDonor(workspace, elsewhere.picture, elsewhere.known, prepared.knee),
      finder.tries(elsewhere),
      0.3,
    )
    expect(laid).toBeNull()
  })
})

// Outside truth for following a camera: OpenCV's two ways to a homography and scikit-image's phase correlation, whose answers
// fixtures/camera/make_homography.py and make_places.py wrote down beside what was drawn.
import { readFileSync } from 'node:fs'
import { describe, expect, test } from 'vitest'
import places from '../../fixtures/camera/places.json' with { type: 'json' }
import turned from '../../fixtures/camera/turned.json' with { type: 'json' }
import { Workspace } from '../../src/kernels/workspace.js'
import { AnywhereFinder, bestOfTries, type Sought } from '../../src/match/find-anywhere.js'
import { Fourier } from '../../src/match/fourier.js'
import { layPlanar } from '../../src/match/planar.js'
import { planarDonor, preparePlanar } from '../../src/match/planar-picture.js'
import type { Plane } from '../../src/raster/plane.js'
import { compose, IDENTITY, shift, type Transform } from '../../src/raster/transform.js'
import { turnOf } from '../../src/search/camera-path.js'
import { placeError, turned as turnedBy } from '../moving.js'

const workspace = new Workspace()

/** The pictures of a file, log2 luminance. */
function picturesOf(name: string, width: number, height: number): Plane[] {
  const bytes = readFileSync(new URL(`../../fixtures/camera/${name}`, import.meta.url))
  const samples = new Uint16Array(bytes.buffer, bytes.byteOffset, bytes.length / 2)
  const size = width * height
  return Array.from({ length: samples.length / size }, (_, i) => {
    const data = Float32Array.from(samples.subarray(i * size, (i + 1) * size), (v) => v / 4096)
    return { x: 0, y: 0, width, height, data }
  })
}

const everywhere = ({ data }: Plane) => new Float32Array(data.length).fill(1)
const known = ({ data }: Plane) => new Uint8Array(data.length).fill(1)
const soughtOf = (picture: Plane): Sought => ({ picture, known: known(picture) })

describe('a camera that turned about its lens', () => {
  const { width, height } = turned
  const truth = turned.truth as unknown as Transform
  const all = { x: 0, y: 0, w: width, h: height }

  test('is drawn by H = K R inverse(K), as R. Hartley and A. Zisserman have it in section 8.4', () => {
    const ours = turnedBy({ pan: 0.021, tilt: -0.013, roll: 0.024 }, width, height, 220)
    expect(placeError(ours, truth, all)).toBeLessThan(1e-5)
  })

  test('is followed with at most half the error of OpenCV’s ECC and of its features with RANSAC', () => {
    const [first, second] = picturesOf('turned.bin', width, height)
    const reference = preparePlanar(workspace, first, everywhere(first))!
    const laid = layPlanar(
      reference,
      planarDonor(workspace, second, known(second), reference.knee),
      IDENTITY,
      'homography',
    )!
    const error = placeError(laid.transform, truth, all)
    const [ecc, features] = [turned.ecc, turned.features].map((t) =>
      placeError(t as unknown as Transform, truth, all),
    )
    expect(error).toBeLessThan(0.03)
    expect(error).toBeLessThanOrEqual(ecc / 2)
    expect(error).toBeLessThanOrEqual(features / 2)
  })
})

describe('another take of a wall', () => {
  const { side, drawn, logPolar, phase } = places
  const [first, nearer, moved] = picturesOf('places.bin', side, side)

  test('has the size and turn that were drawn, and that log-polar spectra of scikit-image tell about', () => {
    const reference = preparePlanar(workspace, first, everywhere(first))!
    const donor = planarDonor(workspace, nearer, known(nearer), reference.knee)
    const tries = new AnywhereFinder(workspace, soughtOf(first)).tries(soughtOf(nearer))
    const laid = bestOfTries(reference, donor, tries, 0.3)!
    const { size, turn } = turnOf(laid.transform, side / 2, side / 2)
    expect(size).toBeCloseTo(drawn.size, 3)
    expect(turn).toBeCloseTo(drawn.turn, 3)
    expect(Math.abs(size - logPolar.size)).toBeLessThan(0.01)
    expect(Math.abs(turn - logPolar.turn)).toBeLessThan(0.01)
    const middle = side / 2
    const truth = compose(
      shift(middle, middle),
      compose(
        [
          drawn.size * Math.cos(drawn.turn),
          -drawn.size * Math.sin(drawn.turn),
          0,
          drawn.size * Math.sin(drawn.turn),
          drawn.size * Math.cos(drawn.turn),
          0,
          0,
          0,
          1,
        ],
        shift(-middle, -middle),
      ),
    )
    expect(placeError(laid.transform, truth, { x: 40, y: 40, w: 100, h: 100 })).toBeLessThan(0.05)
  })

  test('that was only moved correlates best at the shift of scikit-image’s phase_cross_correlation', () => {
    const fourier = Fourier.forPictures(2 * side, 2 * side)
    const [a, b] = [first, moved].map((picture) => fourier.spectraOf(picture, known(picture)))
    const found = fourier.correlate(a, b, 0.3 * side * side)
    const at = found.indexOf(found.reduce((a, b) => Math.max(a, b)))
    const offset = (v: number, n: number) => (v < n / 2 ? v : v - n)
    expect({
      dx: offset(at % fourier.width, fourier.width),
      dy: offset(Math.floor(at / fourier.width), fourier.height),
    }).toEqual(phase)
    expect(phase).toEqual({ dx: drawn.dx, dy: drawn.dy })
  })
})

// A look put on a picture: straight lines between the entries of a curve, tetrahedra between those of a cube.
// Source: J. M. Kasson, S. I. Nin, W. Plouffe, J. L. Hafner, Performing color space conversions with three-dimensional
// linear interpolation, Journal of Electronic Imaging 4(3), 1995, section 3 (the division into six tetrahedra along the
// diagonal from black to white, so that greys stay on a line of greys).
import type { Look, Table } from './look.js'

/**
 * Puts a look on colours, in place.
 *
 * @param rgb three samples per pixel, as the look's domain has them; what lies beyond the domain is taken for its edge, and
 *   what is no number for its lower one
 */
export function applyLook({ curves, cube }: Look, rgb: Float32Array): void {
  if (curves !== null) for (let c = 0; c < 3; c++) applyCurve(curves, rgb, c)
  if (cube !== null) applyCube(cube, rgb)
}

function applyCurve({ size, values, min, max }: Table, rgb: Float32Array, c: number): void {
  const low = min[c]!
  const perEntry = (size - 1) / (max[c]! - low)
  for (let i = c; i < rgb.length; i += 3) {
    const place = held((rgb[i]! - low) * perEntry, size - 1)
    const at = Math.min(place | 0, size - 2)
    const from = values[3 * at + c]!
    rgb[i] = from + (place - at) * (values[3 * at + 3 + c]! - from)
  }
}

function applyCube({ size, values, min, max }: Table, rgb: Float32Array): void {
  const [lowR, lowG, lowB] = min
  const most = size - 1
  const [perR, perG, perB] = [most / (max[0] - lowR), most / (max[1] - lowG), most / (max[2] - lowB)]
  // From an entry to the next one along each axis.
  const [stepR, stepG, stepB] = [3, 3 * size, 3 * size * size]
  const opposite = stepR + stepG + stepB
  for (let i = 0; i < rgb.length; i += 3) {
    const r = held((rgb[i]! - lowR) * perR, most)
    const g = held((rgb[i + 1]! - lowG) * perG, most)
    const b = held((rgb[i + 2]! - lowB) * perB, most)
    const cellR = Math.min(r | 0, most - 1)
    const cellG = Math.min(g | 0, most - 1)
    const cellB = Math.min(b | 0, most - 1)
    const fr = r - cellR
    const fg = g - cellG
    const fb = b - cellB
    // From the cell's corner to the opposite one, first along the axis that is furthest, last along the least.
    const rFirst = fr >= fg && fr >= fb
    const gFirst = !rFirst && fg >= fb
    const far = rFirst ? fr : gFirst ? fg : fb
    const rLast = !rFirst && fr <= fg && fr <= fb
    const gLast = !gFirst && !rLast && fg <= fb
    const near = rLast ? fr : gLast ? fg : fb
    const middle = fr + fg + fb - far - near
    const first = rFirst ? stepR : gFirst ? stepG : stepB
    const last = rLast ? stepR : gLast ? stepG : stepB
    const corner = cellR * stepR + cellG * stepG + cellB * stepB
    const second = corner + first
    const third = corner + opposite - last
    const end = corner + opposite
    for (let c = 0; c < 3; c++) {
      rgb[i + c] =
        (1 - far) * values[corner + c]! +
        (far - middle) * values[second + c]! +
        (middle - near) * values[third + c]! +
        near * values[end + c]!
    }
  }
}

/** 0 to `most`; what is no number is 0. */
function held(place: number, most: number): number {
  return place > 0 ? Math.min(place, most) : 0
}

// From light counted in a file's own primaries to light counted in those of BT.709, for looking at it.
// Sources: SMPTE RP 177:1993, Derivation of Basic Television Color Equations, section 3.3; for another white, the Bradford
// transform of ICC.1:2022, annex E (after K. M. Lam, Metamerism and Colour Constancy, 1985).

/** Nine numbers, row by row. */
export type Matrix = readonly [number, number, number, number, number, number, number, number, number]

/** xy of red, green, blue and white. ITU-R BT.709-6, items 1.3 and 1.4. */
export const BT709_CHROMATICITIES = [0.64, 0.33, 0.3, 0.6, 0.15, 0.06, 0.3127, 0.329] as const

const BRADFORD: Matrix = [0.8951, 0.2664, -0.1614, -0.7502, 1.7135, 0.0367, 0.0389, -0.0685, 1.0296]

/** Headers hold float32: what differs by less than its last digits, or by less than anybody prints, is the same. */
const SAME_XY = 5e-5

/**
 * The matrix from linear RGB of given primaries to linear RGB of BT.709. White stays white: where it is another one, it is
 * adapted.
 *
 * @param chromaticities xy of red, green, blue and white, as an EXR header has them
 * @returns null where the primaries are those of BT.709 already, or span no colours at all
 */
export function toBt709(chromaticities: readonly number[]): Matrix | null {
  if (chromaticities.length !== 8 || chromaticities.every((v, i) => near(v, BT709_CHROMATICITIES[i]!)))
    return null
  const from = rgbToXyz(chromaticities)
  const to = rgbToXyz(BT709_CHROMATICITIES)
  const back = to && inverse(to)
  const adapted = adaptation(chromaticities.slice(6), BT709_CHROMATICITIES.slice(6))
  if (from === null || back === null || adapted === null) return null
  const matrix = times(back, times(adapted, from))
  return matrix.every(Number.isFinite) ? matrix : null
}

function near(a: number, b: number): boolean {
  return Math.abs(a - b) < SAME_XY
}

/** RP 177: the primaries' columns, scaled so that equal parts of them make the white, whose Y is 1. */
function rgbToXyz(xy: readonly number[]): Matrix | null {
  const [r, g, b, white] = [0, 2, 4, 6].map((i) => xyzOf(xy[i]!, xy[i + 1]!)) as [Xyz, Xyz, Xyz, Xyz]
  const columns: Matrix = [r[0], g[0], b[0], r[1], g[1], b[1], r[2], g[2], b[2]]
  const inverted = inverse(columns)
  if (inverted === null) return null
  const [sr, sg, sb] = applied(inverted, white)
  return columns.map((v, i) => v * [sr, sg, sb][i % 3]!) as unknown as Matrix
}

/** Bradford: the whites' cone responses scaled onto each other. */
function adaptation(from: readonly number[], to: readonly number[]): Matrix | null {
  const back = inverse(BRADFORD)!
  const source = applied(BRADFORD, xyzOf(from[0]!, from[1]!))
  const target = applied(BRADFORD, xyzOf(to[0]!, to[1]!))
  // A white that no eye takes for one.
  if (source.some((v) => !(v > 0))) return null
  const [l, m, s] = target.map((v, i) => v / source[i]!) as [number, number, number]
  return times(back, times([l, 0, 0, 0, m, 0, 0, 0, s], BRADFORD))
}

type Xyz = readonly [number, number, number]

/** XYZ of a chromaticity, Y = 1; a primary without luminance (y = 0) by its direction, which is all that counts there. */
function xyzOf(x: number, y: number): Xyz {
  return y === 0 ? [x, 0, 1 - x] : [x / y, 1, (1 - x - y) / y]
}

function applied(m: Matrix, [x, y, z]: Xyz): [number, number, number] {
  return [m[0] * x + m[1] * y + m[2] * z, m[3] * x + m[4] * y + m[5] * z, m[6] * x + m[7] * y + m[8] * z]
}

function times(a: Matrix, b: Matrix): Matrix {
  const column = (c: number): Xyz => applied(a, [b[c]!, b[c + 3]!, b[c + 6]!])
  const [p, q, r] = [column(0), column(1), column(2)]
  return [p[0], q[0], r[0], p[1], q[1], r[1], p[2], q[2], r[2]]
}

/** Null where it has none. */
function inverse([a, b, c, d, e, f, g, h, i]: Matrix): Matrix | null {
  const [A, B, C] = [e * i - f * h, f * g - d * i, d * h - e * g]
  const determinant = a * A + b * B + c * C
  if (!(Math.abs(determinant) > 1e-9)) return null
  const adjugate = [
    A,
    c * h - b * i,
    b * f - c * e,
    B,
    a * i - c * g,
    c * d - a * f,
    C,
    b * g - a * h,
    a * e - b * d,
  ]
  return adjugate.map((v) => v / determinant) as unknown as Matrix
}

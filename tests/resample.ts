// Moving pictures by a part of a pixel, written apart from src/ on purpose: truth that tests plant must not share a fault
// with the code that it judges.

type Kernel = { readonly radius: number; at(x: number): number }

/** R. Keys, Cubic Convolution Interpolation (1981), a = -0.5. */
const BICUBIC: Kernel = {
  radius: 2,
  at(x) {
    const d = Math.abs(x)
    if (d < 1) return 1 + d * d * (1.5 * d - 2.5)
    return d < 2 ? 2 + d * (-4 + d * (2.5 - 0.5 * d)) : 0
  },
}

function windowedSinc(lobes: number): Kernel {
  return {
    radius: lobes,
    at(x) {
      if (x === 0) return 1
      return Math.abs(x) < lobes
        ? (Math.sin(Math.PI * x) / (Math.PI * x)) *
            (Math.sin((Math.PI * x) / lobes) / ((Math.PI * x) / lobes))
        : 0
    },
  }
}

/**
 * Lanczos with three lobes: sharper than bicubic, for the best donor that an eye with perfect hands could lay down. With eight it
 * leaves noise as strong as it was, as a camera does that sways: of white noise moved by half a pixel both ways bicubic leaves
 * 0.64 of the standard deviation, three lobes 0.79, eight 0.92.
 */
const KERNELS = { bicubic: BICUBIC, lanczos: windowedSinc(3), lanczos8: windowedSinc(8) }

/** Interleaved RGB samples, row-major. */
export interface Picture {
  readonly width: number
  readonly height: number
  readonly data: Float32Array
}

export function picture(width: number, height: number): Picture {
  return { width, height, data: new Float32Array(width * height * 3) }
}

/**
 * Cuts a rectangle of `source` at (left, top) after moving it by (dx, dy): out(x, y) = source(x + left - dx, y + top - dy).
 * Every tap must lie inside the source.
 */
export function moved(
  source: Picture,
  rect: { left: number; top: number; width: number; height: number },
  dx: number,
  dy: number,
  filter: keyof typeof KERNELS,
): Picture {
  const kernel = KERNELS[filter]
  const across = taps(rect.left - dx, kernel)
  const down = taps(rect.top - dy, kernel)
  const n = across.weights.length
  const m = down.weights.length
  if (
    across.first < 0 ||
    down.first < 0 ||
    across.first + rect.width + n - 1 > source.width ||
    down.first + rect.height + m - 1 > source.height
  ) {
    throw new RangeError(`(${dx}, ${dy}) reaches outside the ${source.width} x ${source.height} source`)
  }
  const rows = rect.height + m - 1
  const middle = new Float32Array(rows * rect.width * 3)
  for (let y = 0, i = 0; y < rows; y++) {
    let from = ((y + down.first) * source.width + across.first) * 3
    for (let x = 0; x < rect.width * 3; x++, i++, from++) {
      let sum = 0
      for (let k = 0, at = from; k < n; k++, at += 3) sum += across.weights[k] * source.data[at]
      middle[i] = sum
    }
  }
  const out = picture(rect.width, rect.height)
  const stride = rect.width * 3
  for (let i = 0; i < out.data.length; i++) {
    let sum = 0
    for (let k = 0, at = i; k < m; k++, at += stride) sum += down.weights[k] * middle[at]
    out.data[i] = sum
  }
  return out
}

/** The taps round position `start`, normalised; a whole position has one tap. */
function taps(start: number, kernel: Kernel): { first: number; weights: number[] } {
  const base = Math.floor(start)
  const fraction = start - base
  if (fraction === 0) return { first: base, weights: [1] }
  const weights: number[] = []
  for (let k = 1 - kernel.radius; k <= kernel.radius; k++) weights.push(kernel.at(k - fraction))
  const sum = weights.reduce((a, b) => a + b)
  return { first: base + 1 - kernel.radius, weights: weights.map((w) => w / sum) }
}

/** 3 x 3, row by row; takes a pixel of the source to its place in what is shown. */
type Matrix = readonly number[]

/**
 * Cuts a rectangle at (left, top) out of what a matrix makes of `source`: out(x, y) = source(inverse(matrix)(x + left,
 * y + top)). The filter is widened where the source is shown smaller than it is, so that nothing is left out. Every tap
 * must lie inside the source.
 */
export function warped(
  source: Picture,
  rect: { left: number; top: number; width: number; height: number },
  matrix: Matrix,
  filter: keyof typeof KERNELS,
): Picture {
  const [xx, xy, dx, yx, yy, dy, wx, wy, w1] = matrix
  if (xx === 1 && xy === 0 && yx === 0 && yy === 1 && wx === 0 && wy === 0 && w1 === 1)
    return moved(source, rect, dx, dy, filter)
  const kernel = KERNELS[filter]
  const back = adjugate(matrix)
  const out = picture(rect.width, rect.height)
  const [across, down] = [spread(), spread()]
  for (let y = 0, i = 0; y < rect.height; y++) {
    for (let x = 0; x < rect.width; x++, i += 3) {
      const px = x + rect.left
      const py = y + rect.top
      const w = back[6] * px + back[7] * py + back[8]
      const u = (back[0] * px + back[1] * py + back[2]) / w
      const v = (back[3] * px + back[4] * py + back[5]) / w
      // How far the source moves by for one pixel to the right, and for one down.
      const right = Math.sqrt((back[0] - u * back[6]) ** 2 + (back[1] - u * back[7]) ** 2)
      const below = Math.sqrt((back[3] - v * back[6]) ** 2 + (back[4] - v * back[7]) ** 2)
      place(across, u, right / Math.abs(w), kernel)
      place(down, v, below / Math.abs(w), kernel)
      sampleInto(out.data, i, source, across, down)
    }
  }
  return out
}

/** One position's taps in one direction. */
interface Spread {
  first: number
  count: number
  readonly weights: Float64Array
}

const MAX_TAPS = 16

function spread(): Spread {
  return { first: 0, count: 0, weights: new Float64Array(MAX_TAPS) }
}

/** The filter round a position, as wide as an output pixel where that is larger than the source's; normalised. */
function place(into: Spread, at: number, scale: number, kernel: Kernel): void {
  const wide = Math.max(1, scale)
  const { weights } = into
  into.first = Math.floor(at - kernel.radius * wide) + 1
  into.count = Math.ceil(at + kernel.radius * wide) - into.first
  if (!(into.count <= MAX_TAPS))
    throw new RangeError(`a pixel of what is shown is ${scale} pixels of the source`)
  let sum = 0
  for (let k = 0; k < into.count; k++) {
    weights[k] = kernel.at((into.first + k - at) / wide)
    sum += weights[k]
  }
  for (let k = 0; k < into.count; k++) weights[k] /= sum
}

function sampleInto(out: Float32Array, i: number, source: Picture, across: Spread, down: Spread): void {
  const { width, height, data } = source
  if (
    across.first < 0 ||
    down.first < 0 ||
    across.first + across.count > width ||
    down.first + down.count > height
  ) {
    throw new RangeError(`(${across.first}, ${down.first}) lies outside the ${width} x ${height} source`)
  }
  let red = 0
  let green = 0
  let blue = 0
  for (let l = 0; l < down.count; l++) {
    let from = 3 * ((down.first + l) * width + across.first)
    for (let k = 0; k < across.count; k++, from += 3) {
      const weight = down.weights[l] * across.weights[k]
      red += weight * data[from]
      green += weight * data[from + 1]
      blue += weight * data[from + 2]
    }
  }
  out[i] = red
  out[i + 1] = green
  out[i + 2] = blue
}

/** The inverse up to a factor, which a homography does not feel. */
function adjugate([a, b, c, d, e, f, g, h, i]: Matrix): number[] {
  const all = [e * i - f * h, c * h - b * i, b * f - c * e, f * g - d * i, a * i - c * g, c * d - a * f]
  return [...all, d * h - e * g, b * g - a * h, a * e - b * d]
}

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

/** Lanczos with three lobes: the sharper of the two, for the best donor that an eye with perfect hands could lay down. */
const LANCZOS: Kernel = {
  radius: 3,
  at(x) {
    if (x === 0) return 1
    return Math.abs(x) < 3
      ? (Math.sin(Math.PI * x) / (Math.PI * x)) * (Math.sin((Math.PI * x) / 3) / ((Math.PI * x) / 3))
      : 0
  },
}

const KERNELS = { bicubic: BICUBIC, lanczos: LANCZOS }

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

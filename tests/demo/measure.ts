// Plain measurements on small pictures, written without offcut's own matching so that they can judge its footage.

export interface Box {
  readonly x: number
  readonly y: number
  readonly w: number
  readonly h: number
}

/** 16-bit sRGB codes to linear light. IEC 61966-2-1, the standard's two pieces. */
export function linearOf(codes: Uint16Array): Float32Array {
  return Float32Array.from(codes, (code) => {
    const v = code / 65535
    return v <= 0.04045 ? v / 12.92 : ((v + 0.055) / 1.055) ** 2.4
  })
}

/** Log base 2 of the luminance of interleaved linear RGB. Weights: ITU-R BT.709. */
export function logLuminance(rgb: Float32Array): Float32Array {
  const out = new Float32Array(rgb.length / 3)
  for (let i = 0; i < out.length; i++) {
    out[i] = Math.log2(0.2126 * rgb[3 * i] + 0.7152 * rgb[3 * i + 1] + 0.0722 * rgb[3 * i + 2] + 1e-6)
  }
  return out
}

export function meanLight(rgb: Float32Array, width: number, box: Box): number {
  let sum = 0
  for (let y = box.y; y < box.y + box.h; y++) {
    for (let x = box.x; x < box.x + box.w; x++) sum += rgb[3 * (y * width + x) + 1]
  }
  return sum / (box.w * box.h)
}

export function statistics(values: readonly number[]): { mean: number; variance: number } {
  let sum = 0
  for (const v of values) sum += v
  const mean = sum / values.length
  let square = 0
  for (const v of values) square += (v - mean) ** 2
  return { mean, variance: square / (values.length - 1) }
}

export function gradientEnergy(picture: Float32Array, width: number, box: Box): number {
  let sum = 0
  for (let y = box.y; y < box.y + box.h; y++) {
    for (let x = box.x; x < box.x + box.w; x++) {
      const i = y * width + x
      sum += (picture[i + 1] - picture[i - 1]) ** 2 + (picture[i + width] - picture[i - width]) ** 2
    }
  }
  return sum
}

/**
 * The (dx, dy) for which donor(x - dx, y - dy) plus a constant is closest to target(x, y) in a box.
 * Lucas & Kanade 1981: least squares on the gradient, repeated; the donor is read by a Lanczos kernel of four lobes.
 */
export function fitShift(
  target: Float32Array,
  donor: Float32Array,
  width: number,
  box: Box,
): { dx: number; dy: number } {
  let dx = 0
  let dy = 0
  for (let round = 0; round < 7; round++) {
    let [gxx, gxy, gyy, gxe, gye, gx1, gy1, e1, n] = [0, 0, 0, 0, 0, 0, 0, 0, 0]
    for (let y = box.y; y < box.y + box.h; y++) {
      for (let x = box.x; x < box.x + box.w; x++) {
        const gx = (read(donor, width, x + 1 - dx, y - dy) - read(donor, width, x - 1 - dx, y - dy)) / 2
        const gy = (read(donor, width, x - dx, y + 1 - dy) - read(donor, width, x - dx, y - 1 - dy)) / 2
        const e = target[y * width + x] - read(donor, width, x - dx, y - dy)
        gxx += gx * gx
        gxy += gx * gy
        gyy += gy * gy
        gxe += gx * e
        gye += gy * e
        gx1 += gx
        gy1 += gy
        e1 += e
        n++
      }
    }
    // The constant (the exposure's stops) is taken out of every sum.
    const a = gxx - (gx1 * gx1) / n
    const b = gxy - (gx1 * gy1) / n
    const c = gyy - (gy1 * gy1) / n
    const p = gxe - (gx1 * e1) / n
    const q = gye - (gy1 * e1) / n
    const det = a * c - b * b
    dx -= (c * p - b * q) / det
    dy -= (a * q - b * p) / det
  }
  return { dx, dy }
}

function read(picture: Float32Array, width: number, x: number, y: number): number {
  const ix = Math.floor(x)
  const iy = Math.floor(y)
  let sum = 0
  let weights = 0
  for (let j = -3; j <= 4; j++) {
    const wy = lanczos(y - iy - j)
    for (let i = -3; i <= 4; i++) {
      const w = wy * lanczos(x - ix - i)
      sum += w * picture[(iy + j) * width + ix + i]
      weights += w
    }
  }
  return sum / weights
}

function lanczos(x: number): number {
  if (Math.abs(x) < 1e-9) return 1
  if (Math.abs(x) >= 4) return 0
  const p = Math.PI * x
  return (4 * Math.sin(p) * Math.sin(p / 4)) / (p * p)
}

// Seeded chance: a number stream, and smooth noise over the picture that leaves out detail too fine to be drawn.

/**
 * A stream of numbers in [0, 1), the same for the same seed on every machine.
 * G. Marsaglia, Xorshift RNGs, J. Stat. Software 8(14), 2003: the 32-bit triple (13, 17, 5).
 */
export function random(seed: number): () => number {
  let state = mix(seed) || 1
  return () => {
    state ^= state << 13
    state ^= state >>> 17
    state ^= state << 5
    return (state >>> 0) / 4294967296
  }
}

/** Spreads every bit of a whole number over 32 bits. The finaliser of A. Appleby's MurmurHash3 (public domain). */
export function mix(value: number): number {
  let h = value | 0
  h = Math.imul(h ^ (h >>> 16), 0x85ebca6b)
  h = Math.imul(h ^ (h >>> 13), 0xc2b2ae35)
  return (h ^ (h >>> 16)) >>> 0
}

/** A number in [0, 1) that belongs to a grid cell. */
export function cell(ix: number, iy: number, seed: number): number {
  return mix(Math.imul(ix, 0x9e3779b1) ^ Math.imul(iy, 0x632be5ab) ^ Math.imul(seed, 0x2545f491)) / 4294967296
}

/** Value noise: -1 to 1, one random value per whole coordinate, joined smoothly. */
export function valueNoise(x: number, y: number, seed: number): number {
  const ix = Math.floor(x)
  const iy = Math.floor(y)
  const fx = x - ix
  const fy = y - iy
  const ux = fx * fx * (3 - 2 * fx)
  const uy = fy * fy * (3 - 2 * fy)
  const a = cell(ix, iy, seed)
  const b = cell(ix + 1, iy, seed)
  const c = cell(ix, iy + 1, seed)
  const d = cell(ix + 1, iy + 1, seed)
  const top = a + (b - a) * ux
  return 2 * (top + (c + (d - c) * ux - top) * uy) - 1
}

/**
 * Value noise in octaves, each half as long and half as strong as the one before; about -1 to 1.
 *
 * @param wavelength of the longest octave, in the units of x and y
 * @param footprint  width of one sample in the same units: octaves shorter than two samples fade out, so that a small
 *                   picture shows the mean of the detail and no false pattern
 */
export function fbm(
  x: number,
  y: number,
  seed: number,
  wavelength: number,
  octaves: number,
  footprint: number,
): number {
  let sum = 0
  let weight = 0.5
  let length = wavelength
  for (let o = 0; o < octaves; o++) {
    const seen = resolved(length, footprint)
    if (seen === 0) break
    sum += seen * weight * valueNoise(x / length + o * 17.3, y / length - o * 9.7, seed + o)
    weight *= 0.5
    length *= 0.5
  }
  return sum
}

/** How much of a pattern of that wavelength a sampling grid shows: 1 above four samples, 0 below two. */
export function resolved(wavelength: number, footprint: number): number {
  const samples = wavelength / footprint
  return samples >= 4 ? 1 : samples <= 2 ? 0 : (samples - 2) / 2
}

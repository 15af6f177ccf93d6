// Linear light as 16-bit sRGB codes, quickly: half of the time that all tests took went into making their plates. The curve
// is IEC 61966-2-1's, written out here and not taken from the code under test.
import sharp from 'sharp'

const LEVELS = 65535

export function srgbOf(linear: number): number {
  return linear <= 0.0031308 ? 12.92 * linear : 1.055 * linear ** (1 / 2.4) - 0.055
}

function linearOf(code: number): number {
  return code <= 0.04045 ? code / 12.92 : ((code + 0.055) / 1.055) ** 2.4
}

/** The light from which each code is the nearest; the last is out of reach. */
const from = Float64Array.from({ length: LEVELS + 2 }, (_, code) =>
  code === 0 ? 0 : code > LEVELS ? Number.POSITIVE_INFINITY : linearOf((code - 0.5) / LEVELS),
)
/** Bits of a float32 below those that choose a bucket, and the buckets of the numbers up to 1. */
const BELOW = 13
const first = bucketOf(2 ** -24)
const buckets = new Uint16Array(bucketOf(1) - first + 2)
for (let i = 0; i < buckets.length; i++) buckets[i] = Math.round(LEVELS * Math.min(1, srgbOf(startOf(i))))

function bucketOf(light: number): number {
  return new Uint32Array(Float32Array.of(light).buffer)[0] >>> BELOW
}

function startOf(bucket: number): number {
  return new Float32Array(Uint32Array.of((first + bucket) << BELOW).buffer)[0]
}

/** Nearest codes, 0 to 65535; light below 0 is black, above 1 white. */
export function codesOf(linear: Float32Array): Uint16Array {
  const bits = new Uint32Array(linear.buffer, linear.byteOffset, linear.length)
  const out = new Uint16Array(linear.length)
  const least = first << BELOW
  for (let i = 0; i < linear.length; i++) {
    const light = linear[i]
    if (!(light > 0) || bits[i] < least) continue
    if (light >= 1) {
      out[i] = LEVELS
      continue
    }
    const at = bits[i] - least
    const bucket = at >>> BELOW
    const low = buckets[bucket]
    // Between two buckets by a straight line, then to the very code.
    let code = low + (((at & ((1 << BELOW) - 1)) * (buckets[bucket + 1] - low)) >>> BELOW)
    while (light >= from[code + 1]) code++
    while (light < from[code]) code--
    out[i] = code
  }
  return out
}

/** Linear light as a 16-bit sRGB PNG. */
export async function writeCodes(path: string, linear: Float32Array, width: number, height: number) {
  await sharp(codesOf(linear), { raw: { width, height, channels: 3 } })
    .toColourspace('rgb16')
    .png({ compressionLevel: 0 })
    .toFile(path)
}

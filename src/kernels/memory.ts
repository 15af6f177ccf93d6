// The compiled loops of this thread (`kernels/`) and the linear memory that they work in. Buffers in it are named and
// used again, so that thousands of frames don't each allocate theirs; what they hold is left over from the last use.
import { readFileSync } from 'node:fs'

/**
 * Pointers are bytes into the memory, lengths are samples; named buffers have room for a whole number of vectors. What
 * each does is said in `kernels/`.
 */
interface Kernels {
  smooth(source: number, out: number, line: number, width: number, height: number): void
  halve(source: number, out: number, width: number, height: number): void
  subtractBoxMean(
    source: number,
    out: number,
    line: number,
    width: number,
    height: number,
    radius: number,
  ): void
  blur(data: number, other: number, sums: number, width: number, height: number, radius: number): void
  softSign(data: number, length: number, knee: number): void
  shift(
    source: number,
    sourceWidth: number,
    sourceHeight: number,
    left: number,
    top: number,
    across: number,
    nx: number,
    down: number,
    ny: number,
    out: number,
    width: number,
    height: number,
    padded: number,
    lines: number,
  ): void
  working(
    halves: number,
    log: number,
    validity: number,
    length: number,
    wr: number,
    wg: number,
    wb: number,
    floor: number,
    clip: number,
    first: number,
  ): void
  correlate(
    weight: number,
    product: number,
    stride: number,
    donor: number,
    donorStride: number,
    width: number,
    height: number,
    step: number,
    sums: number,
  ): void
  sample4(
    data: number,
    width: number,
    height: number,
    column: number,
    row: number,
    length: number,
    left: number,
    top: number,
    taps: number,
    out: number,
  ): void
  pairSums(
    target: number,
    donor: number,
    weight: number,
    validity: number,
    length: number,
    sums: number,
  ): void
  markWithin(
    aligned: number,
    validity: number,
    light: number,
    level: number,
    spread: number,
    sigmas: number,
    stops: number,
    length: number,
    out: number,
  ): void
  markOutliers(
    aligned: number,
    validity: number,
    light: number,
    level: number,
    spread: number,
    sigmas: number,
    stops: number,
    width: number,
    height: number,
    left: number,
    top: number,
    right: number,
    bottom: number,
    sums: number,
    counts: number,
    out: number,
  ): void
  sortColumns(
    rows: number,
    validities: number,
    lights: number,
    columns: number,
    length: number,
    four: number,
    sorted: number,
    seen: number,
  ): void
  refineRatio(
    donor: number,
    quiet: number,
    validity: number,
    noise: number,
    out: number,
    a: number,
    b: number,
    other: number,
    sums: number,
    width: number,
    height: number,
    radius: number,
    prior: number,
    least: number,
  ): void
  addBand(
    fine: number,
    coarse: number,
    light: number,
    grain: number,
    out: number,
    a: number,
    other: number,
    sums: number,
    width: number,
    height: number,
    radius: number,
    times: number,
  ): void
  logs(data: number, length: number): void
  powers(data: number, length: number): void
  gradientSquares(data: number, weight: number, width: number, height: number, sums: number): void
}

const PAGE_BYTES = 65536
const MAX_PAGES = 65536
/** Vectors are 16 bytes wide. */
const ALIGNMENT = 16
/** A buffer that must grow gets this much more than is asked for, so that it grows seldom. */
const HEADROOM = 1.25

// Shared, because then views of it outlive its growth.
const memory = new WebAssembly.Memory({ initial: 16, maximum: MAX_PAGES, shared: true })

export const kernels = new WebAssembly.Instance(
  new WebAssembly.Module(readFileSync(new URL('./kernels.wasm', import.meta.url))),
  { env: { memory } },
).exports as unknown as Kernels

/** The first page is the kernels' own. */
let top = PAGE_BYTES
const regions = new Map<string, { at: number; bytes: number }>()
const ours = new WeakSet<ArrayBufferLike>()

/** `length` samples under a name; the same name asked for again is the same buffer. @throws RangeError past 4 GiB */
export function floats(name: string, length: number): Float32Array {
  const at = region(name, 4 * length)
  return new Float32Array(buffer(), at, length)
}

/** As `floats`, of bytes. */
export function bytes(name: string, length: number): Uint8Array {
  const at = region(name, length)
  return new Uint8Array(buffer(), at, length)
}

/** As `floats`, of int32. */
export function integers(name: string, length: number): Int32Array {
  const at = region(name, 4 * length)
  return new Int32Array(buffer(), at, length)
}

/** As `floats`, of float64. */
export function doubles(name: string, length: number): Float64Array {
  const at = region(name, 8 * length)
  return new Float64Array(buffer(), at, length)
}

type Samples = Float32Array | Int32Array | Uint16Array | Uint8Array

/** Where the kernels find these samples: in place where they lie in the memory, else copied under a name. */
export function pointer(samples: Readonly<Samples>, name: string): number {
  if (ours.has(samples.buffer)) return samples.byteOffset
  const at = region(name, samples.byteLength)
  new Uint8Array(buffer(), at, samples.byteLength).set(
    new Uint8Array(samples.buffer, samples.byteOffset, samples.byteLength),
  )
  return at
}

/** Lets a kernel change samples wherever they lie: in place, or copied in under a name and out again. */
export function changing(samples: Float32Array | Uint8Array, name: string, use: (at: number) => void): void {
  pointer(samples, name)
  writing(samples, name, use)
}

/** As `changing`, for a kernel that writes all of the samples: what they were before is not copied in. */
export function writing(samples: Float32Array | Uint8Array, name: string, use: (at: number) => void): void {
  if (ours.has(samples.buffer)) {
    use(samples.byteOffset)
    return
  }
  const at = region(name, samples.byteLength)
  use(at)
  new Uint8Array(samples.buffer, samples.byteOffset, samples.byteLength).set(
    new Uint8Array(buffer(), at, samples.byteLength),
  )
}

function region(name: string, length: number): number {
  const kept = regions.get(name)
  if (kept !== undefined && kept.bytes >= length) return kept.at
  const size = Math.ceil((length * (kept ? HEADROOM : 1)) / ALIGNMENT) * ALIGNMENT
  const at = top
  const lacking = at + size - memory.buffer.byteLength
  if (lacking > 0) memory.grow(Math.ceil(lacking / PAGE_BYTES))
  top = at + size
  regions.set(name, { at, bytes: size })
  return at
}

function buffer(): ArrayBufferLike {
  ours.add(memory.buffer)
  return memory.buffer
}

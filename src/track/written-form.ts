// A tracked frame as bytes, for another thread or another machine: what was tracked there is read here without a copy.
//
// `offcutTF`, then as uint32 the version and the header's length; the header, JSON in UTF-8, padded with spaces; then the
// arrays in the header's order. All little-endian, every part on a multiple of 8 bytes.
import { ownPages } from '../raster/own-pages.js'
import type { TrackedFrame } from './frame-tracker.js'

/** Raised where the header, the arrays or what they mean changes: another version's frames are refused. */
export const TRACKED_VERSION = 3

const MAGIC = 'offcutTF'
const ALIGNMENT = 8
const PREFIX_BYTES = 16

const KINDS = { f32: Float32Array, u16: Uint16Array, u8: Uint8Array } as const
type Kind = keyof typeof KINDS
type Samples = Float32Array | Uint16Array | Uint8Array

/** What stands in the header: all of the frame but its arrays, and where they lie. */
interface Header {
  readonly plate: number
  readonly frame: number
  readonly pose: Omit<TrackedFrame['pose'], 'sigma'> & { readonly sigma: number | null }
  readonly noise: number | null
  readonly log: { readonly x: number; readonly y: number; readonly width: number; readonly height: number }
  readonly print?: string
  /** True where exposure and colours were taken. */
  readonly lit: boolean
  readonly arrays: readonly { readonly kind: Kind; readonly length: number }[]
}

/** The frame in its written form. */
export function writeTracked(tracked: TrackedFrame): Uint8Array<ArrayBuffer> {
  const { plate, frame, pose, noise, seen, lit, print } = tracked
  const { data, x, y, width, height } = seen.log
  const arrays: Samples[] = [data, seen.validity]
  if (lit) arrays.push(...lit.band.means, lit.band.validity, lit.rgb)
  const header: Header = {
    plate,
    frame,
    // JSON has no infinity, which is what an offset that nothing holds has.
    pose: { ...pose, sigma: Number.isFinite(pose.sigma) ? pose.sigma : null },
    noise,
    log: { x, y, width, height },
    ...(print === undefined ? {} : { print }),
    lit: lit !== undefined,
    arrays: arrays.map((a) => ({ kind: kindOf(a), length: a.length })),
  }
  const text = new TextEncoder().encode(JSON.stringify(header))
  const start = PREFIX_BYTES + padded(text.length)
  const size = arrays.reduce((sum, a) => sum + padded(a.byteLength), start)
  const out = new Uint8Array(ownPages(size), 0, size)
  out.set(new TextEncoder().encode(MAGIC))
  const view = new DataView(out.buffer)
  view.setUint32(8, TRACKED_VERSION, true)
  view.setUint32(12, padded(text.length), true)
  out.fill(0x20, PREFIX_BYTES, start)
  out.set(text, PREFIX_BYTES)
  let at = start
  for (const a of arrays) {
    out.set(new Uint8Array(a.buffer, a.byteOffset, a.byteLength), at)
    at += padded(a.byteLength)
  }
  return out
}

/**
 * The frame that was written; its arrays are views of `bytes`, which start on a multiple of 8.
 *
 * @throws RangeError where it is no tracked frame, of another version, or cut short
 */
export function readTracked(bytes: Uint8Array<ArrayBuffer>): TrackedFrame {
  const magic = new TextDecoder().decode(bytes.subarray(0, MAGIC.length))
  if (magic !== MAGIC || bytes.length < PREFIX_BYTES) throw new RangeError('these bytes are no tracked frame')
  const view = new DataView(bytes.buffer, bytes.byteOffset)
  const version = view.getUint32(8, true)
  if (version !== TRACKED_VERSION) {
    throw new RangeError(
      `a tracked frame of version ${version}, and this offcut reads ${TRACKED_VERSION}: track it again`,
    )
  }
  const start = PREFIX_BYTES + view.getUint32(12, true)
  if (start > bytes.length) throw new RangeError('a tracked frame is cut short in its header')
  const header = JSON.parse(new TextDecoder().decode(bytes.subarray(PREFIX_BYTES, start))) as Header
  let at = start
  const arrays = header.arrays.map(({ kind, length }) => {
    const Kind = KINDS[kind]
    const size = length * Kind.BYTES_PER_ELEMENT
    if (at + size > bytes.length) throw new RangeError('a tracked frame is cut short in its arrays')
    const samples = new Kind(bytes.buffer, bytes.byteOffset + at, length)
    at += padded(size)
    return samples
  })
  const [data, validity, ...rest] = arrays as [Float32Array, Uint8Array, ...Samples[]]
  const { plate, frame, pose, noise, log, print, lit } = header
  const tracked = {
    plate,
    frame,
    pose: { ...pose, sigma: pose.sigma ?? Number.POSITIVE_INFINITY },
    noise,
    seen: { log: { ...log, data }, validity },
    ...(print === undefined ? {} : { print }),
  }
  if (!lit) return tracked
  const rgb = rest.pop() as Uint16Array
  const known = rest.pop() as Uint8Array
  return { ...tracked, lit: { band: { means: rest as Float32Array[], validity: known }, rgb } }
}

function kindOf(samples: Samples): Kind {
  return samples instanceof Float32Array ? 'f32' : samples instanceof Uint16Array ? 'u16' : 'u8'
}

function padded(length: number): number {
  return Math.ceil(length / ALIGNMENT) * ALIGNMENT
}

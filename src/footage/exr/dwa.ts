// DWAA and DWAB: colour channels by a cosine transform on a perceptual curve, alpha by run lengths, the rest by zlib.
// Source: the chunk layout that OpenEXR writes (OpenEXR 3.1, ImfDwaCompressor).

import { undoPredictor } from '../../kernels/bytes.js'
import { bitsToHalf, halfToFloat } from '../../raster/half.js'
import type { BlockChannel, BlockShape } from './blocks.js'
import { expandRuns, inflateTo } from './bytes.js'
import { differencesToRgb, inverseDct, linearFromCurve, ZIGZAG } from './dct.js'
import { bad } from './header.js'
import { decodeHuffman } from './huffman.js'

type Scheme = 'zlib' | 'dct' | 'runs'
const SCHEMES: readonly Scheme[] = ['zlib', 'dct', 'runs']
const TYPES = ['uint', 'half', 'float'] as const

const LEAD_BYTES = 88
// the stream of AC coefficients: 0xffnn skips nn zeros, 0xff00 ends a block
const END_OF_BLOCK = 0xff00

/** The eleven 64-bit numbers a chunk begins with. */
interface Lead {
  readonly zlibRaw: number
  readonly zlib: number
  readonly ac: number
  readonly dc: number
  readonly runs: number
  readonly runsInflated: number
  readonly runsRaw: number
  readonly acCount: number
  readonly dcCount: number
  readonly acByZlib: boolean
}

interface Plane {
  readonly channel: BlockChannel
  readonly scheme: Scheme
  /** Where its samples begin in the output. */
  readonly at: number
  /** 0, 1, 2 for the red, green and blue of a colour set; -1 else. */
  readonly colour: number
}

/** @returns the samples channel by channel. @throws BadFile */
export async function decodeDwa(data: Uint8Array, shape: BlockShape): Promise<Uint8Array> {
  const lead = readLead(data)
  const { rules, end } = readRules(data)
  const planes = classify(shape, rules)
  const sets = colourSets(planes)
  checkCounts(lead, planes, data.length)
  let at = end
  const next = (length: number): Uint8Array => {
    if (at + length > data.length)
      throw bad(`has a DWA chunk of ${data.length} bytes that needs ${at + length}`)
    at += length
    return data.subarray(at - length, at)
  }
  const [zlibData, acData, dcData, runData] = [next(lead.zlib), next(lead.ac), next(lead.dc), next(lead.runs)]
  const out = new Uint8Array(shape.size)
  if (lead.zlibRaw > 0) copyPlanes(out, planes, await inflateTo(zlibData!, lead.zlibRaw))
  if (lead.runsRaw > 0) {
    mergeRuns(out, planes, expandRuns(await inflateTo(runData!, lead.runsInflated), lead.runsRaw))
  }
  if (lead.dcCount === 0) return out
  const dc = words(undoPredictor(await inflateTo(dcData!, 2 * lead.dcCount)))
  const ac = lead.acByZlib
    ? words(await inflateTo(acData!, 2 * lead.acCount))
    : decodeHuffman(acData!, lead.acCount)
  const stream = new Coefficients(dc, ac)
  for (const set of sets) decodeBlocks(out, set, stream)
  return out
}

function readLead(data: Uint8Array): Lead {
  if (data.length < LEAD_BYTES + 2) throw bad('has a DWA chunk that ends in its lead')
  const view = new DataView(data.buffer, data.byteOffset, data.byteLength)
  const number = (i: number): number => {
    const value = Number(view.getBigUint64(8 * i, true))
    if (value > 0xffffffff) throw bad(`has a DWA chunk with a size of ${value}`)
    return value
  }
  const version = number(0)
  if (version !== 2) throw bad(`has DWA of version ${version}, version 2 is read`)
  const method = number(10)
  if (method > 1) throw bad(`has a DWA chunk with coefficients by method ${method}`)
  return {
    zlibRaw: number(1),
    zlib: number(2),
    ac: number(3),
    dc: number(4),
    runs: number(5),
    runsInflated: number(6),
    runsRaw: number(7),
    acCount: number(8),
    dcCount: number(9),
    acByZlib: method === 1,
  }
}

interface Rule {
  readonly suffix: string
  readonly anyCase: boolean
  readonly type: (typeof TYPES)[number]
  readonly scheme: Scheme
  readonly colour: number
}

/** The chunk says itself which channel names it treated how. */
function readRules(data: Uint8Array): { rules: Rule[]; end: number } {
  const size = data[LEAD_BYTES]! | (data[LEAD_BYTES + 1]! << 8)
  const end = LEAD_BYTES + size
  if (size < 2 || end > data.length) throw bad('has a DWA chunk that ends in its rules')
  const rules: Rule[] = []
  for (let at = LEAD_BYTES + 2; at < end; ) {
    const zero = data.indexOf(0, at)
    if (zero < 0 || zero + 3 > end) throw bad('has a DWA chunk with broken rules')
    const value = data[zero + 1]!
    const scheme = SCHEMES[(value >> 2) & 3]
    const type = TYPES[data[zero + 2]!]
    if (scheme === undefined || type === undefined) throw bad('has a DWA chunk with broken rules')
    const suffix = String.fromCharCode(...data.subarray(at, zero))
    rules.push({ suffix, anyCase: (value & 1) === 1, type, scheme, colour: (value >> 4) - 1 })
    at = zero + 3
  }
  return { rules, end }
}

function classify(shape: BlockShape, rules: readonly Rule[]): Plane[] {
  let at = 0
  return shape.channels.map((channel) => {
    const suffix = channel.name.slice(channel.name.lastIndexOf('.') + 1)
    // the last rule that fits counts
    const rule = rules.findLast(
      (r) =>
        r.type === channel.type &&
        (r.suffix === suffix || (r.anyCase && r.suffix.toLowerCase() === suffix.toLowerCase())),
    )
    const plane = { channel, at, scheme: rule?.scheme ?? 'zlib', colour: rule?.colour ?? -1 }
    at += channel.columns * channel.rows * channel.bytes
    return plane
  })
}

/** Planes that were transformed together: first the colour sets by layer name, then the others one by one. */
function colourSets(planes: readonly Plane[]): Plane[][] {
  const byLayer = new Map<string, Plane[]>()
  for (const plane of planes) {
    if (plane.scheme !== 'dct' || plane.colour < 0 || plane.colour > 2) continue
    const layer = plane.channel.name.slice(0, Math.max(0, plane.channel.name.lastIndexOf('.')))
    const set = byLayer.get(layer) ?? []
    set[plane.colour] = plane
    byLayer.set(layer, set)
  }
  const sets = [...byLayer.entries()]
    .sort(([a], [b]) => (a < b ? -1 : 1))
    .map(([, set]) => set)
    .filter(
      ([r, g, b]) => r !== undefined && g !== undefined && b !== undefined && alike(r, g) && alike(r, b),
    )
  const joined = new Set(sets.flat())
  const alone = planes.filter((plane) => plane.scheme === 'dct' && !joined.has(plane))
  return [...sets, ...alone.map((plane) => [plane])]
}

function alike({ channel: a }: Plane, { channel: b }: Plane): boolean {
  return a.xSampling === b.xSampling && a.ySampling === b.ySampling
}

function blocksOf({ channel }: Plane): number {
  return Math.ceil(channel.columns / 8) * Math.ceil(channel.rows / 8)
}

/** Everything the lead announces must be what the channels need, before room is made for it. */
function checkCounts(lead: Lead, planes: readonly Plane[], length: number): void {
  const total = (scheme: Scheme, of: (plane: Plane) => number): number =>
    planes.reduce((sum, plane) => sum + (plane.scheme === scheme ? of(plane) : 0), 0)
  const bytes = ({ channel }: Plane): number => channel.columns * channel.rows * channel.bytes
  const expect = (what: string, got: number, wanted: number): void => {
    if (got !== wanted) throw bad(`has a DWA chunk with ${got} ${what}, its channels need ${wanted}`)
  }
  const blocks = total('dct', blocksOf)
  expect('constant coefficients', lead.dcCount, blocks)
  expect('bytes of other channels', lead.zlibRaw, total('zlib', bytes))
  expect('bytes of runs', lead.runsRaw, total('runs', bytes))
  if (lead.acCount > 63 * blocks || lead.runsInflated > 2 * lead.runsRaw) {
    throw bad(`has a DWA chunk of ${length} bytes with more coefficients than its channels have`)
  }
}

function copyPlanes(out: Uint8Array, planes: readonly Plane[], bytes: Uint8Array): void {
  let from = 0
  for (const { channel, scheme, at } of planes) {
    if (scheme !== 'zlib') continue
    const length = channel.columns * channel.rows * channel.bytes
    out.set(bytes.subarray(from, from + length), at)
    from += length
  }
}

/** Run lengths are of planes of bytes, the lowest of every sample first. */
function mergeRuns(out: Uint8Array, planes: readonly Plane[], runs: Uint8Array): void {
  let from = 0
  for (const { channel, scheme, at } of planes) {
    if (scheme !== 'runs') continue
    const samples = channel.columns * channel.rows
    for (let b = 0; b < channel.bytes; b++) {
      for (let i = 0, to = at + b; i < samples; i++, to += channel.bytes) out[to] = runs[from++]!
    }
  }
}

function words(bytes: Uint8Array): Uint16Array {
  const out = new Uint16Array(bytes.length / 2)
  for (let i = 0; i < out.length; i++) out[i] = bytes[2 * i]! | (bytes[2 * i + 1]! << 8)
  return out
}

/** Both streams of coefficients, in step. The constants of a set lie plane after plane, the others block after block. */
class Coefficients {
  private dcAt = 0
  private acAt = 0
  private readonly stored = new Uint16Array(64)

  constructor(
    private readonly dc: Uint16Array,
    private readonly ac: Uint16Array,
  ) {}

  /** Fills `block`, row by row. @param dcOffset of this block's constant among those of the set */
  read(dcOffset: number, block: Float32Array): void {
    const { stored, ac } = this
    stored.fill(0)
    stored[0] = this.dc[this.dcAt + dcOffset]!
    for (let i = 1; i < 64; ) {
      if (this.acAt >= ac.length) throw bad('has a DWA chunk whose coefficients end early')
      const word = ac[this.acAt++]!
      if (word === END_OF_BLOCK) break
      if (word >> 8 === 0xff) i += word & 0xff
      else stored[i++] = word
    }
    for (let i = 0; i < 64; i++) block[i] = halfToFloat(stored[ZIGZAG[i]!]!)
  }

  endSet(constants: number): void {
    this.dcAt += constants
  }
}

const bits = new Uint32Array(1)
const value = new Float32Array(bits.buffer)

function decodeBlocks(out: Uint8Array, set: readonly Plane[], stream: Coefficients): void {
  const first = set[0]!.channel
  const across = Math.ceil(first.columns / 8)
  const down = Math.ceil(first.rows / 8)
  const blocks = set.map(() => new Float32Array(64))
  for (let by = 0, n = 0; by < down; by++) {
    for (let bx = 0; bx < across; bx++, n++) {
      for (let c = 0; c < set.length; c++) {
        stream.read(c * across * down + n, blocks[c]!)
        inverseDct(blocks[c]!)
      }
      if (set.length === 3) differencesToRgb(blocks[0]!, blocks[1]!, blocks[2]!)
      for (let c = 0; c < set.length; c++)
        storeBlock(out, set[c]!, set.length === 3, blocks[c]!, bx * 8, by * 8)
    }
  }
  stream.endSet(set.length * across * down)
}

function storeBlock(
  out: Uint8Array,
  plane: Plane,
  colour: boolean,
  block: Float32Array,
  left: number,
  top: number,
): void {
  const { columns, rows, bytes, pLinear } = plane.channel
  const table = pLinear && !colour ? null : linearFromCurve()
  for (let y = 0; y < 8 && top + y < rows; y++) {
    let to = plane.at + ((top + y) * columns + left) * bytes
    for (let x = 0; x < 8 && left + x < columns; x++, to += bytes) {
      value[0] = block[y * 8 + x]!
      const half = bitsToHalf(bits[0]!)
      const result = table === null ? half : table[half]!
      if (bytes === 2) {
        out[to] = result
        out[to + 1] = result >>> 8
        continue
      }
      value[0] = halfToFloat(result)
      const word = bits[0]!
      for (let b = 0; b < 4; b++) out[to + b] = word >>> (8 * b)
    }
  }
}

// DWAA and DWAB: colour channels by a cosine transform on a perceptual curve, alpha by run lengths, the rest by zlib.
// Source: the chunk layout that OpenEXR writes (OpenEXR 3.1, ImfDwaCompressor).

import { undoPredictor } from '../../kernels/bytes.js'
import { codecs, wordsIn } from '../../kernels/codecs.js'
import { cosineBlocks, type Stream } from '../../kernels/dct.js'
import type { Scratch } from '../../kernels/workspace.js'
import { letGo } from '../../raster/let-go.js'
import { type BlockChannel, type BlockShape, samplesOf, type Wanted } from './blocks.js'
import { expandRuns, inflateTo } from './bytes.js'
import { linearFromCurve } from './curve.js'
import { bad } from './header.js'
import { decodeHuffman } from './huffman.js'

type Scheme = 'zlib' | 'dct' | 'runs'
const SCHEMES: readonly Scheme[] = ['zlib', 'dct', 'runs']
const TYPES = ['uint', 'half', 'float'] as const

const LEAD_BYTES = 88

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
  /** The channel's place in the part's list. */
  readonly index: number
  readonly channel: BlockChannel
  readonly scheme: Scheme
  /** Where its samples begin in the output. */
  readonly at: number
  /** 0, 1, 2 for the red, green and blue of a colour set; -1 else. */
  readonly colour: number
}

/** The streams of a chunk, inflated. */
interface Inflated {
  readonly other: Uint8Array | null
  readonly runs: Uint8Array | null
  readonly dc: Uint8Array
  /** As zlib made them, or still in their Huffman code. */
  readonly ac: Uint8Array
}

/**
 * @returns what makes the samples channel by channel, of which only those that are wanted are right, in scratch of
 *   `codecs()`. @throws BadFile, and so does what is returned
 */
export async function decodeDwa(
  data: Uint8Array,
  shape: BlockShape,
  wanted: Wanted,
): Promise<(scratch: Scratch) => Uint8Array> {
  const lead = readLead(data)
  const { rules, end } = readRules(data)
  const planes = classify(shape, rules)
  checkCounts(lead, planes, data.length)
  let at = end
  const next = (length: number): Uint8Array => {
    if (at + length > data.length)
      throw bad(`has a DWA chunk of ${data.length} bytes that needs ${at + length}`)
    at += length
    return data.subarray(at - length, at)
  }
  const [zlibData, acData, dcData, runData] = [next(lead.zlib), next(lead.ac), next(lead.dc), next(lead.runs)]
  const inflated: Uint8Array[] = []
  const inflate = async (packed: Uint8Array, size: number): Promise<Uint8Array> => {
    const bytes = await inflateTo(packed, size)
    inflated.push(bytes)
    return bytes
  }
  const other = lead.zlibRaw > 0 ? await inflate(zlibData, lead.zlibRaw) : null
  const runs = lead.runsRaw > 0 ? await inflate(runData, lead.runsInflated) : null
  const dc = lead.dcCount > 0 ? await inflate(dcData, 2 * lead.dcCount) : dcData
  const ac = lead.dcCount > 0 && lead.acByZlib ? await inflate(acData, 2 * lead.acCount) : acData
  return (scratch) => {
    const out = scratch.bytes(shape.size)
    place(out, planes, lead, { other, runs, dc, ac }, wanted, scratch)
    for (const bytes of inflated) letGo(bytes)
    return out
  }
}

function place(
  out: Uint8Array,
  planes: readonly Plane[],
  lead: Lead,
  { other, runs, dc, ac }: Inflated,
  wanted: Wanted,
  scratch: Scratch,
): void {
  if (other !== null) copyPlanes(out, planes, other)
  if (runs !== null) mergeRuns(out, planes, expandRuns(runs, lead.runsRaw))
  if (lead.dcCount === 0) return
  const constants = scratch.bytes(2 * lead.dcCount)
  undoPredictor(codecs(), dc, constants)
  const others = scratch.bytes(2 * lead.acCount)
  if (lead.acByZlib) others.set(ac)
  else decodeHuffman(ac, lead.acCount, wordsIn(others))
  let first: Stream = { words: wordsIn(constants), at: 0 }
  let rest: Stream = { words: wordsIn(others), at: 0 }
  for (const set of colourSets(planes)) {
    const at = decodeSet(out, set, rest, first, wanted)
    first = { ...first, at: first.at + set.length * blocksOf(set[0]!) }
    rest = { ...rest, at }
  }
}

/** @returns the next of the coefficients */
function decodeSet(out: Uint8Array, set: readonly Plane[], ac: Stream, dc: Stream, wanted: Wanted): number {
  const { columns, rows, pLinear } = set[0]!.channel
  const [from, to] = samplesOf(set[0]!.channel, wanted)
  const asked = set.some(({ index }) => wanted.channels.includes(index))
  const samples = set.map(({ at, channel }) => out.subarray(at, at + bytesOf(channel)))
  const wide = set.reduce((bits, { channel }, i) => bits | (channel.bytes === 4 ? 1 << i : 0), 0)
  const table = pLinear && set.length === 1 ? undefined : linearFromCurve()
  const next = cosineBlocks(
    codecs(),
    ac,
    dc,
    { columns, rows, samples, wide, table },
    asked ? from >> 3 : 0,
    asked ? (to + 7) >> 3 : 0,
  )
  if (next === null) throw bad('has a DWA chunk whose coefficients end early')
  return next
}

function bytesOf({ columns, rows, bytes }: BlockChannel): number {
  return columns * rows * bytes
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
  return shape.channels.map((channel, index) => {
    const suffix = channel.name.slice(channel.name.lastIndexOf('.') + 1)
    // the last rule that fits counts
    const rule = rules.findLast(
      (r) =>
        r.type === channel.type &&
        (r.suffix === suffix || (r.anyCase && r.suffix.toLowerCase() === suffix.toLowerCase())),
    )
    const plane = { index, channel, at, scheme: rule?.scheme ?? 'zlib', colour: rule?.colour ?? -1 }
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
  const bytes = ({ channel }: Plane): number => bytesOf(channel)
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

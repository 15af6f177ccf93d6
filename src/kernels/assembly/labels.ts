// Labels spread over blocks by alpha expansion. What it is for is said in `src/match/labelling.ts`. AssemblyScript.
import { addEdge, addTerminals, clearGraph, isSourceSide, layGraph, solveGraph } from './flow'

const NO_LABEL: u8 = 255
/** Blocks either side of a seam that are labelled anew on the next finer grid. */
const BAND_BLOCKS: i32 = 4
/** Share of a gradient's difference in the price of a seam, beside the difference itself. */
const GRADIENT_SHARE: f64 = 0.5
/** Rounds over all labels; few need more than three. */
const MAX_ROUNDS: i32 = 6
/** A step that gains less than this share of the price gains nothing. */
const ROUNDING: f64 = 1e-6

/** What is labelled; lies where the wrapper put its numbers, in this order. */
@unmanaged
class Job {
  width: i32
  height: i32
  block: i32
  across: i32
  down: i32
  labels: i32
  freeCount: i32
  /** 1 per pixel where a label is wanted. */
  wanted: usize
  /** Per label a pointer: to its price per block, float32; to its picture, float32 per pixel. */
  data: usize
  pictures: usize
  /** Per block its label; the blocks that may change; of those that may in this step their node, else -1. */
  label: usize
  free: usize
  node: usize
  graph: usize
  /** Per label, int32 twice. */
  loose: usize
}

/**
 * Lays labels of pixels on blocks, each under that of its last pixel, and lists the blocks that may change.
 *
 * @param all every block may change that has a label; else those near a seam
 * @param label receives a byte per block
 * @param free  receives blocks in order, int32; room for all
 * @param isFree room for a byte per block
 * @returns how many may change
 */
export function layBlocks(
  width: i32,
  height: i32,
  block: i32,
  labels: usize,
  all: boolean,
  label: usize,
  free: usize,
  isFree: usize,
): i32 {
  const across = (width + block - 1) / block
  const down = (height + block - 1) / block
  const blocks = across * down
  memory.fill(label, NO_LABEL, blocks)
  for (let y = 0, i = 0; y < height; y++) {
    const row = (y / block) * across
    for (let x = 0; x < width; x++, i++) {
      const own = load<u8>(labels + <usize>i)
      if (own !== NO_LABEL) store<u8>(label + <usize>(row + x / block), own)
    }
  }
  memory.fill(isFree, all ? 1 : 0, blocks)
  if (!all) freeSeams(label, across, down, isFree)
  let count = 0
  for (let b = 0; b < blocks; b++) {
    if (!load<u8>(isFree + <usize>b) || load<u8>(label + <usize>b) === NO_LABEL) continue
    store<i32>(free + ((<usize>count) << 2), b)
    count++
  }
  return count
}

function freeSeams(label: usize, across: i32, down: i32, isFree: usize): void {
  for (let y = 0, b = 0; y < down; y++)
    for (let x = 0; x < across; x++, b++) {
      const right = x + 1 < across && isSeam(label, b, b + 1)
      const below = y + 1 < down && isSeam(label, b, b + across)
      if (!right && !below) continue
      const left = max(0, x - BAND_BLOCKS)
      const wide = min(across - 1, x + 1 + BAND_BLOCKS) + 1 - left
      const bottom = min(down - 1, y + 1 + BAND_BLOCKS)
      for (let v = max(0, y - BAND_BLOCKS); v <= bottom; v++)
        memory.fill(isFree + <usize>(v * across + left), 1, wide)
    }
}

function isSeam(label: usize, a: i32, b: i32): boolean {
  const one = load<u8>(label + <usize>a)
  const other = load<u8>(label + <usize>b)
  return one !== other && one !== NO_LABEL && other !== NO_LABEL
}

/** Adds a label's prices up by blocks, of pixels that are wanted, in float32. @param sums receives a float32 per block */
export function sumBlocks(
  price: usize,
  wanted: usize,
  width: i32,
  height: i32,
  block: i32,
  sums: usize,
): void {
  const across = (width + block - 1) / block
  memory.fill(sums, 0, (<usize>(across * ((height + block - 1) / block))) << 2)
  for (let y = 0, i = 0; y < height; y++) {
    const row = (y / block) * across
    for (let x = 0; x < width; x++, i++) {
      if (load<u8>(wanted + <usize>i) !== 1) continue
      const at = sums + ((<usize>(row + x / block)) << 2)
      store<f32>(at, load<f32>(at) + load<f32>(price + ((<usize>i) << 2)))
    }
  }
}

/** Lays blocks' labels on their pixels, where one is wanted. */
export function layLabels(
  width: i32,
  height: i32,
  block: i32,
  wanted: usize,
  label: usize,
  labels: usize,
): void {
  const across = (width + block - 1) / block
  for (let y = 0, i = 0; y < height; y++) {
    const row = (y / block) * across
    for (let x = 0; x < width; x++, i++)
      store<u8>(
        labels + <usize>i,
        load<u8>(wanted + <usize>i) === 1 ? load<u8>(label + <usize>(row + x / block)) : NO_LABEL,
      )
  }
}

/**
 * Spreads label after label until none gains.
 *
 * @param at    the job
 * @param price of every label that is used at all
 */
export function spreadLabels(at: usize, price: f64): void {
  const job = changetype<Job>(at)
  if (job.labels < 2) return
  memory.fill(job.node, 0xff, (<usize>(job.across * job.down)) << 2)
  // A label's price hangs on a node of its own, with an edge to each of its blocks.
  layGraph(job.graph, job.freeCount + job.labels, 3 * job.freeCount)
  let idle = 0
  let alpha = 0
  for (let step = 0; idle < job.labels && step < MAX_ROUNDS * job.labels; step++) {
    idle = expand(job, alpha, price) ? 0 : idle + 1
    if (++alpha === job.labels) alpha = 0
  }
}

function labelAt(job: Job, b: i32): u8 {
  return load<u8>(job.label + <usize>b)
}

function nodeAt(job: Job, b: i32): i32 {
  return load<i32>(job.node + ((<usize>b) << 2))
}

function freeAt(job: Job, k: i32): i32 {
  return load<i32>(job.free + ((<usize>k) << 2))
}

/** A price of a label on a block. */
function dataAt(job: Job, l: i32, b: i32): f64 {
  return load<f32>(load<usize>(job.data + ((<usize>l) << 2)) + ((<usize>b) << 2))
}

/** Gives the label to all blocks that together gain by it. @returns whether anything changed */
function expand(job: Job, alpha: i32, labelPrice: f64): boolean {
  const graph = job.graph
  let nodes = 0
  for (let k = 0; k < job.freeCount; k++) {
    const b = freeAt(job, k)
    const own = job.node + ((<usize>b) << 2)
    if (<i32>labelAt(job, b) === alpha) store<i32>(own, -1)
    else {
      store<i32>(own, nodes)
      nodes++
    }
  }
  if (nodes === 0) return false
  clearGraph(graph, nodes + job.labels)
  // On the source's side a block takes alpha, on the sink's it keeps what it has.
  let kept = priceLabels(job, alpha, nodes, labelPrice)
  for (let k = 0; k < job.freeCount; k++) {
    const b = freeAt(job, k)
    const node = nodeAt(job, b)
    if (node < 0) continue
    const stays = dataAt(job, labelAt(job, b), b)
    kept += stays
    addTerminals(graph, node, stays, dataAt(job, alpha, b))
  }
  const across = job.across
  const blocks = across * job.down
  // What taking alpha saves is added to the price of keeping, so that none is below 0: the flow holds that much more.
  let lowered: f64 = 0
  for (let k = 0; k < job.freeCount; k++) {
    const b = freeAt(job, k)
    const x = b % across
    if (x + 1 < across) lowered = join(job, alpha, b, b, b + 1, true, lowered)
    if (b + across < blocks) lowered = join(job, alpha, b, b, b + across, false, lowered)
    // Between two free blocks it was joined from the other one.
    if (x > 0 && nodeAt(job, b - 1) < 0) lowered = join(job, alpha, b - 1, b, b - 1, true, lowered)
    if (b >= across && nodeAt(job, b - across) < 0)
      lowered = join(job, alpha, b - across, b, b - across, false, lowered)
  }
  const gained = kept - solveGraph(graph) - lowered
  const entry = isUsed(job, <u8>alpha) ? 0 : labelPrice
  if (gained <= entry + ROUNDING * max<f64>(1, kept)) return false
  for (let k = 0; k < job.freeCount; k++) {
    const b = freeAt(job, k)
    const node = nodeAt(job, b)
    if (node >= 0 && isSourceSide(graph, node)) store<u8>(job.label + <usize>b, <u8>alpha)
  }
  return true
}

function isUsed(job: Job, alpha: u8): boolean {
  const blocks = job.across * job.down
  for (let b = 0; b < blocks; b++) if (labelAt(job, b) === alpha) return true
  return false
}

/**
 * Adds what the seam from block `b` to its neighbour `c` costs more if one of them takes alpha than if both keep.
 *
 * @returns `lowered` with what it saves
 */
function join(job: Job, alpha: i32, first: i32, b: i32, c: i32, across: boolean, lowered: f64): f64 {
  const p = nodeAt(job, b)
  const one = <i32>labelAt(job, b)
  const other = <i32>labelAt(job, c)
  if (p < 0 || other === <i32>NO_LABEL) return lowered
  const q = nodeAt(job, c)
  const both = seam(job, first, across, one, other)
  const taken = seam(job, first, across, alpha, other)
  lowered = price(job, p, taken - both, lowered)
  if (q < 0) return lowered
  const given = seam(job, first, across, one, alpha)
  lowered = price(job, q, -taken, lowered)
  // Rounding alone can make it less than 0: the price is a metric.
  addEdge(job.graph, q, p, max<f64>(0, given + taken - both), 0)
  return lowered
}

/** Adds what taking alpha costs a node more than keeping. @returns `lowered` with what it saves */
function price(job: Job, node: i32, more: f64, lowered: f64): f64 {
  if (more > 0) {
    addTerminals(job.graph, node, 0, more)
    return lowered
  }
  addTerminals(job.graph, node, -more, 0)
  return lowered + more
}

/** Adds what is saved when the last block of a label takes alpha. @returns what these labels cost as it is */
function priceLabels(job: Job, alpha: i32, nodes: i32, labelPrice: f64): f64 {
  if (labelPrice === 0) return 0
  const blocks = job.across * job.down
  const loose = job.loose
  const used = loose + ((<usize>job.labels) << 2)
  memory.fill(loose, 0, (<usize>job.labels) << 3)
  for (let b = 0; b < blocks; b++) {
    const l = labelAt(job, b)
    if (l !== NO_LABEL) countTo(loose, l, -1)
  }
  for (let k = 0; k < job.freeCount; k++) countTo(loose, labelAt(job, freeAt(job, k)), 1)
  // A label that also lies where nothing may change stays in use.
  let kept: f64 = 0
  for (let k = 0; k < job.freeCount; k++) {
    const b = freeAt(job, k)
    const l = <i32>labelAt(job, b)
    const at = (<usize>l) << 2
    if (l === alpha || load<i32>(loose + at) !== 0) continue
    if (!load<i32>(used + at)) {
      store<i32>(used + at, 1)
      kept += labelPrice
      addTerminals(job.graph, nodes + l, labelPrice, 0)
    }
    addEdge(job.graph, nodes + l, nodeAt(job, b), labelPrice, 0)
  }
  return kept
}

function countTo(counts: usize, l: u8, by: i32): void {
  const at = counts + ((<usize>l) << 2)
  store<i32>(at, load<i32>(at) + by)
}

/** The price of the seam from a block to its right neighbour, or to the one below, under two labels. */
function seam(job: Job, b: i32, across: boolean, one: i32, other: i32): f64 {
  if (one === other) return 0
  const width = job.width
  const height = job.height
  const block = job.block
  const left = (b % job.across) * block
  const top = (b / job.across) * block
  const a = load<usize>(job.pictures + ((<usize>one) << 2))
  const z = load<usize>(job.pictures + ((<usize>other) << 2))
  let sum: f64 = 0
  for (let k = 0; k < block; k++) {
    const x = across ? left + block - 1 : left + k
    const y = across ? top + k : top + block - 1
    if (x >= width || y >= height) break
    const p = y * width + x
    const q = across ? p + 1 : p + width
    if (load<u8>(job.wanted + <usize>p) === 1 && load<u8>(job.wanted + <usize>q) === 1)
      sum += differenceAt(a, z, width, height, p) + differenceAt(a, z, width, height, q)
  }
  return sum
}

/** What two pictures and their gradients differ by at a pixel. */
function differenceAt(a: usize, z: usize, width: i32, height: i32, p: i32): f64 {
  const here = offAt(a, z, p)
  // Beyond the last row and column there is no gradient, and it counts as none.
  const right = (p + 1) % width === 0 ? here : offAt(a, z, p + 1)
  const down = p + width >= width * height ? here : offAt(a, z, p + width)
  return abs(here) + GRADIENT_SHARE * (abs(right - here) + abs(down - here))
}

function offAt(a: usize, z: usize, p: i32): f64 {
  const at = (<usize>p) << 2
  return <f64>load<f32>(a + at) - <f64>load<f32>(z + at)
}

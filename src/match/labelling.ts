// Which of several pictures shows through where: a label per pixel, of all labellings one whose price no single step of
// alpha expansion lowers. Y. Boykov, O. Veksler, R. Zabih, Fast Approximate Energy Minimization via Graph Cuts (PAMI 2001),
// sections 4 and 5; the graph of a step after V. Kolmogorov, R. Zabih, What Energy Functions Can Be Minimized via Graph
// Cuts? (PAMI 2004), section 4; a price per label in use after A. Delong et al., Fast Approximate Energy Minimization with
// Label Costs (IJCV 2012), section 2.2. A seam costs what the two pictures differ by at both of its pixels, V. Kwatra et
// al., Graphcut Textures (2003), equation 1, and what their gradients do, A. Agarwala et al., Interactive Digital
// Photomontage (2004), section 3. Differs: coarse to fine. Labels are first found for blocks, then anew along the seams.

import { FlowGraph } from './max-flow.js'

export interface LabellingJob {
  readonly width: number
  readonly height: number
  /** 1 where a label is wanted. */
  readonly wanted: Readonly<Uint8Array>
  /** Per label, the price of showing it at a pixel, at least 0. */
  readonly data: readonly Readonly<Float32Array>[]
  /** Per label, its picture in units of the grain: seams run where pictures agree. */
  readonly pictures: readonly Readonly<Float32Array>[]
  /** Price of every label that is used at all. */
  readonly labelPrice: number
}

export interface Labelled {
  /** Over the grid; NO_LABEL where none was wanted. */
  readonly labels: Uint8Array
  readonly price: number
}

export const NO_LABEL = 255
/** Labels that there can be. */
export const MAX_LABELS = NO_LABEL

/** Blocks are so large that no more than this many are labelled at once. */
const MAX_BLOCKS = 4096
/** Blocks either side of a seam that are labelled anew on the next finer grid. */
const BAND_BLOCKS = 4
/** Share of a gradient's difference in the price of a seam, beside the difference itself. */
const GRADIENT_SHARE = 0.5
/** Rounds over all labels; few need more than three. */
const MAX_ROUNDS = 6
/** A step that gains less than this share of the price gains nothing. */
const ROUNDING = 1e-6

/** A local optimum: no label can be spread any further to advantage. @throws RangeError for no label, or too many */
export function labelGrid(job: LabellingJob): Labelled {
  const { data, width, height } = job
  if (data.length === 0 || data.length > MAX_LABELS)
    throw new RangeError(`there must be 1 to ${MAX_LABELS} labels, and are ${data.length}`)
  let block = 1
  while (Math.ceil(width / block) * Math.ceil(height / block) > MAX_BLOCKS) block *= 2
  let labels = spread(job, block, bestAlone(job), true)
  // What blocks have no use for a part of one has none for, either: on from here only labels in use are looked at.
  const used = data.map((_, l) => l).filter((l) => labels.includes(l))
  const part = { ...job, data: used.map((l) => data[l]), pictures: used.map((l) => job.pictures[l]) }
  labels = labels.map((l) => (l === NO_LABEL ? NO_LABEL : used.indexOf(l)))
  while (block > 1) {
    block >>= 1
    labels = spread(part, block, labels, false)
  }
  labels = labels.map((l) => used[l] ?? NO_LABEL)
  return { labels, price: priceOf(job, labels) }
}

function spread(job: LabellingJob, block: number, labels: Readonly<Uint8Array>, all: boolean): Uint8Array {
  const grid = new BlockGrid(job, block, labels, all)
  grid.settle()
  return grid.labels()
}

/** What a labelling costs: all data, all seams, all labels in use. */
export function priceOf(job: LabellingJob, labels: Readonly<Uint8Array>): number {
  const { width, height, data, labelPrice } = job
  let price = labelPrice * new Set(labels.filter((l) => l !== NO_LABEL)).size
  for (let y = 0, i = 0; y < height; y++)
    for (let x = 0; x < width; x++, i++) {
      const a = labels[i]
      if (a === NO_LABEL) continue
      price += data[a][i]
      if (x + 1 < width && labels[i + 1] !== NO_LABEL) price += seamPrice(job, i, i + 1, a, labels[i + 1])
      if (y + 1 < height && labels[i + width] !== NO_LABEL)
        price += seamPrice(job, i, i + width, a, labels[i + width])
    }
  return price
}

/** Between neighbours p and q, the one showing `a` and the other `b`; a metric in the labels. */
function seamPrice(job: LabellingJob, p: number, q: number, a: number, b: number): number {
  if (a === b) return 0
  return difference(job, p, a, b) + difference(job, q, a, b)
}

function difference({ pictures, width }: LabellingJob, p: number, a: number, b: number): number {
  const one = pictures[a]
  const other = pictures[b]
  const here = one[p] - other[p]
  // Beyond the last row and column there is no gradient, and it counts as none.
  const right = (p + 1) % width === 0 ? here : one[p + 1] - other[p + 1]
  const down = p + width >= one.length ? here : one[p + width] - other[p + width]
  return Math.abs(here) + GRADIENT_SHARE * (Math.abs(right - here) + Math.abs(down - here))
}

/** The label that is cheapest everywhere by itself. */
function bestAlone({ data, wanted }: LabellingJob): Uint8Array {
  const sums = data.map((price) => price.reduce((sum, v, i) => sum + wanted[i] * v, 0))
  const best = sums.indexOf(Math.min(...sums))
  return wanted.map((w) => (w === 1 ? best : NO_LABEL))
}

/** The grid in blocks, each under one label; prices are those of their pixels. */
class BlockGrid {
  readonly #across: number
  readonly #down: number
  /** Per block. */
  readonly #label: Uint8Array
  /** Blocks that may change. */
  readonly #free: Int32Array
  /** Of blocks that may change in this step, else -1. */
  readonly #node: Int32Array
  readonly #graph: FlowGraph
  /** Per label and block. */
  readonly #data: Float32Array[]
  readonly #loose: Int32Array
  /** What taking alpha saves is added to the price of keeping, so that none is below 0: the flow holds that much more. */
  #lowered = 0

  /**
   * @param labels under which blocks start
   * @param all    every block may change; else those near a seam
   */
  constructor(
    readonly job: LabellingJob,
    readonly block: number,
    labels: Readonly<Uint8Array>,
    all: boolean,
  ) {
    this.#across = Math.ceil(job.width / block)
    this.#down = Math.ceil(job.height / block)
    const blocks = this.#across * this.#down
    this.#label = new Uint8Array(blocks).fill(NO_LABEL)
    for (let i = 0; i < labels.length; i++)
      if (labels[i] !== NO_LABEL) this.#label[this.#blockOf(i)] = labels[i]
    this.#data = job.data.map((price) => {
      const sums = new Float32Array(blocks)
      for (let i = 0; i < price.length; i++) if (job.wanted[i] === 1) sums[this.#blockOf(i)] += price[i]
      return sums
    })
    const isFree = this.#label.map((l) => (l !== NO_LABEL && all ? 1 : 0))
    if (!all) this.#freeSeams(isFree)
    this.#free = Int32Array.from(isFree.keys()).filter((b) => isFree[b] === 1)
    this.#node = new Int32Array(blocks).fill(-1)
    this.#loose = new Int32Array(job.data.length)
    // A label's price hangs on a node of its own, with an edge to each of its blocks.
    this.#graph = new FlowGraph(this.#free.length + job.data.length, 3 * this.#free.length)
  }

  /** Over the pixels. */
  labels(): Uint8Array {
    return this.job.wanted.map((w, i) => (w === 1 ? this.#label[this.#blockOf(i)] : NO_LABEL))
  }

  /** Spreads label after label until none gains. */
  settle(): void {
    const { data } = this.job
    if (data.length < 2) return
    let idle = 0
    for (let step = 0; idle < data.length && step < MAX_ROUNDS * data.length; step++)
      idle = this.#expand(step % data.length) ? 0 : idle + 1
  }

  #blockOf(pixel: number): number {
    const { width } = this.job
    const y = Math.floor(pixel / width)
    return Math.floor(y / this.block) * this.#across + Math.floor((pixel - y * width) / this.block)
  }

  #freeSeams(isFree: Uint8Array): void {
    const [across, down] = [this.#across, this.#down]
    for (let y = 0, b = 0; y < down; y++)
      for (let x = 0; x < across; x++, b++) {
        const right = x + 1 < across && this.#isSeam(b, b + 1)
        const below = y + 1 < down && this.#isSeam(b, b + across)
        if (!right && !below) continue
        for (let v = Math.max(0, y - BAND_BLOCKS); v <= Math.min(down - 1, y + 1 + BAND_BLOCKS); v++)
          for (let u = Math.max(0, x - BAND_BLOCKS); u <= Math.min(across - 1, x + 1 + BAND_BLOCKS); u++)
            if (this.#label[v * across + u] !== NO_LABEL) isFree[v * across + u] = 1
      }
  }

  #isSeam(a: number, b: number): boolean {
    return this.#label[a] !== this.#label[b] && this.#label[a] !== NO_LABEL && this.#label[b] !== NO_LABEL
  }

  /** Gives the label to all blocks that together gain by it. @returns whether anything changed */
  #expand(alpha: number): boolean {
    const { labelPrice, data } = this.job
    const [label, node, graph] = [this.#label, this.#node, this.#graph]
    let nodes = 0
    for (const b of this.#free) node[b] = label[b] === alpha ? -1 : nodes++
    if (nodes === 0) return false
    graph.clear(nodes + data.length)
    this.#lowered = 0
    // On the source's side a block takes alpha, on the sink's it keeps what it has.
    let kept = this.#priceLabels(alpha, nodes)
    for (const b of this.#free) {
      if (node[b] < 0) continue
      const stays = this.#data[label[b]][b]
      kept += stays
      graph.addTerminals(node[b], stays, this.#data[alpha][b])
    }
    const across = this.#across
    for (const b of this.#free) {
      const x = b % across
      if (x + 1 < across) this.#join(alpha, b, b, b + 1, true)
      if (b + across < label.length) this.#join(alpha, b, b, b + across, false)
      // Between two free blocks it was joined from the other one.
      if (x > 0 && node[b - 1] < 0) this.#join(alpha, b - 1, b, b - 1, true)
      if (b >= across && node[b - across] < 0) this.#join(alpha, b - across, b, b - across, false)
    }
    const gained = kept - graph.solve() - this.#lowered
    const entry = label.includes(alpha) ? 0 : labelPrice
    if (gained <= entry + ROUNDING * Math.max(1, kept)) return false
    for (const b of this.#free) if (node[b] >= 0 && graph.isSourceSide(node[b])) label[b] = alpha
    return true
  }

  /** Adds what the seam from block `b` to its neighbour `c` costs more if one of them takes alpha than if both keep. */
  #join(alpha: number, first: number, b: number, c: number, across: boolean): void {
    const [p, q] = [this.#node[b], this.#node[c]]
    const [one, other] = [this.#label[b], this.#label[c]]
    if (p < 0 || other === NO_LABEL) return
    const both = this.#seam(first, across, one, other)
    const taken = this.#seam(first, across, alpha, other)
    this.#price(p, taken - both)
    if (q < 0) return
    const given = this.#seam(first, across, one, alpha)
    this.#price(q, -taken)
    // Rounding alone can make it less than 0: the price is a metric.
    this.#graph.addEdge(q, p, Math.max(0, given + taken - both), 0)
  }

  /** Adds what taking alpha costs a node more than keeping. */
  #price(node: number, more: number): void {
    if (more > 0) this.#graph.addTerminals(node, 0, more)
    else {
      this.#graph.addTerminals(node, -more, 0)
      this.#lowered += more
    }
  }

  /** Adds what is saved when the last block of a label takes alpha. @returns what these labels cost as it is */
  #priceLabels(alpha: number, nodes: number): number {
    const { labelPrice } = this.job
    const [label, loose] = [this.#label, this.#loose.fill(0)]
    if (labelPrice === 0) return 0
    for (const l of label) if (l !== NO_LABEL) loose[l]--
    for (const b of this.#free) loose[label[b]]++
    // A label that also lies where nothing may change stays in use.
    let kept = 0
    const used = loose.map((n) => (n === 0 ? 1 : 0))
    for (const b of this.#free) {
      const l = label[b]
      if (l === alpha || used[l] === 0) continue
      if (used[l] === 1) {
        used[l] = 2
        kept += labelPrice
        this.#graph.addTerminals(nodes + l, labelPrice, 0)
      }
      this.#graph.addEdge(nodes + l, this.#node[b], labelPrice, 0)
    }
    return kept
  }

  /** The price of the seam from a block to its right neighbour, or to the one below, under two labels. */
  #seam(b: number, across: boolean, one: number, other: number): number {
    if (one === other) return 0
    const { job, block } = this
    const { width, height, wanted } = job
    const [left, top] = [(b % this.#across) * block, Math.floor(b / this.#across) * block]
    let price = 0
    for (let k = 0; k < block; k++) {
      const x = across ? left + block - 1 : left + k
      const y = across ? top + k : top + block - 1
      if (x >= width || y >= height) break
      const p = y * width + x
      const q = across ? p + 1 : p + width
      if (wanted[p] === 1 && wanted[q] === 1) price += seamPrice(job, p, q, one, other)
    }
    return price
  }
}

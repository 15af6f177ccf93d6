// The straight twin of the kernel that grows trees and asks them: nodes one in the other, every sample by itself.

import type { TreesSetup } from '../../src/match/boosted-trees.js'

/** Splits lie between so many quantiles of a feature. */
const BINS = 32
const LEAF = -1

/** All trees' nodes one after the other; a full tree of `depth` has 2^(depth+1) - 1 of them. */
class PlainTrees {
  readonly #feature: Int8Array
  readonly #threshold: Float64Array
  readonly #value: Float64Array
  readonly #nodes: number

  /** @param base what all start from */
  constructor(
    readonly base: number,
    readonly setup: TreesSetup,
  ) {
    this.#nodes = 2 ** (setup.depth + 1) - 1
    this.#feature = new Int8Array(setup.trees * this.#nodes).fill(LEAF)
    this.#threshold = new Float64Array(setup.trees * this.#nodes)
    this.#value = new Float64Array(setup.trees * this.#nodes)
  }

  /** @param x features, one after the other from `at` on */
  predict(x: Readonly<Float32Array>, at = 0): number {
    let sum = this.base
    for (let from = 0; from < this.#feature.length; from += this.#nodes)
      sum += this.#value[this.#leaf(x, at, from)]
    return sum
  }

  #leaf(x: Readonly<Float32Array>, at: number, from: number): number {
    let node = 0
    while (this.#feature[from + node] !== LEAF)
      node = 2 * node + (x[at + this.#feature[from + node]] <= this.#threshold[from + node] ? 1 : 2)
    return from + node
  }

  split(node: number, feature: number, threshold: number): void {
    this.#feature[node] = feature
    this.#threshold[node] = threshold
  }

  answer(node: number, value: number): void {
    this.#value[node] = value
  }

  get nodesOfTree(): number {
    return this.#nodes
  }
}

/**
 * @param x samples one after the other, each with as many features as `rising` has
 * @param y what is to be foretold, one per sample
 */
export function plainTrees(
  x: Readonly<Float32Array>,
  y: Readonly<Float64Array>,
  setup: TreesSetup,
): (x: Readonly<Float32Array>) => number {
  const features = setup.rising.length
  const n = y.length
  let base = 0
  for (let i = 0; i < n; i++) base += y[i] / n
  const model = new PlainTrees(base, setup)
  const { bin, edges } = binned(x, n, features)
  const left = y.map((v) => v - base)
  const grower = new Grower(model, setup, bin, edges, left)
  for (let t = 0; t < setup.trees; t++) grower.grow(t)
  return (x) => model.predict(x)
}

/** Which quantile each sample lies in, `features` bins a sample, and per feature the upper edge of each quantile. */
function binned(
  x: Readonly<Float32Array>,
  n: number,
  features: number,
): { bin: Uint8Array; edges: Float32Array[] } {
  const bin = new Uint8Array(n * features)
  const edges: Float32Array[] = []
  const column = new Float32Array(n)
  for (let f = 0; f < features; f++) {
    for (let i = 0; i < n; i++) column[i] = x[i * features + f]
    const sorted = column.slice().sort()
    const found: number[] = []
    for (let b = 1; b < BINS; b++) {
      const edge = sorted[Math.min(n - 1, Math.floor((b * n) / BINS))]
      if (edge !== found[found.length - 1] && edge < sorted[n - 1]) found.push(edge)
    }
    const upper = Float32Array.from(found)
    edges.push(upper)
    for (let i = 0; i < n; i++) {
      let low = 0
      let high = upper.length
      while (low < high) {
        const mid = (low + high) >> 1
        if (column[i] <= upper[mid]) high = mid
        else low = mid + 1
      }
      bin[i * features + f] = low
    }
  }
  return { bin, edges }
}

interface Split {
  readonly feature: number
  readonly bin: number
  readonly gain: number
}

class Grower {
  readonly #order: Int32Array
  readonly #spare: Int32Array
  /** BINS per feature. */
  readonly #sum: Float64Array
  readonly #count: Int32Array

  constructor(
    readonly model: PlainTrees,
    readonly setup: TreesSetup,
    readonly bin: Readonly<Uint8Array>,
    readonly edges: readonly Float32Array[],
    /** What is still to be explained, per sample. */
    readonly left: Float64Array,
  ) {
    this.#order = Int32Array.from(left, (_, i) => i)
    this.#spare = new Int32Array(left.length)
    this.#sum = new Float64Array(edges.length * BINS)
    this.#count = new Int32Array(edges.length * BINS)
  }

  grow(tree: number): void {
    this.#node(tree * this.model.nodesOfTree, 0, 0, 0, this.left.length, -Infinity, Infinity)
  }

  /** The samples order[from] up to, not including, order[to]; their answer must lie between `low` and `high`. */
  #node(
    tree: number,
    node: number,
    depth: number,
    from: number,
    to: number,
    low: number,
    high: number,
  ): void {
    const mean = this.#mean(from, to)
    const found = depth < this.setup.depth ? this.#best(from, to, low, high) : null
    if (found === null) {
      const value = this.setup.rate * Math.min(high, Math.max(low, mean))
      this.model.answer(tree + node, value)
      for (let k = from; k < to; k++) this.left[this.#order[k]] -= value
      return
    }
    const { feature, bin } = found
    this.model.split(tree + node, feature, this.edges[feature][bin])
    const middle = this.#part(from, to, feature, bin)
    const rising = this.setup.rising[feature] === 1
    const between = rising ? this.#between(from, middle, to, low, high) : 0
    this.#node(tree, 2 * node + 1, depth + 1, from, middle, low, rising ? between : high)
    this.#node(tree, 2 * node + 2, depth + 1, middle, to, rising ? between : low, high)
  }

  #mean(from: number, to: number): number {
    const order = this.#order
    const left = this.left
    let sum = 0
    for (let k = from; k < to; k++) sum += left[order[k]]
    return sum / (to - from)
  }

  #between(from: number, middle: number, to: number, low: number, high: number): number {
    const inside = (v: number) => Math.min(high, Math.max(low, v))
    return (inside(this.#mean(from, middle)) + inside(this.#mean(middle, to))) / 2
  }

  #best(from: number, to: number, low: number, high: number): Split | null {
    const { rising, minLeaf } = this.setup
    const sum = this.#sum.fill(0)
    const count = this.#count.fill(0)
    const all = addToBins(this.#order, from, to, this.left, this.bin, rising.length, sum, count)
    let best: Split | null = null
    const inside = (v: number) => Math.min(high, Math.max(low, v))
    const whole = (all * all) / (to - from)
    for (let f = 0; f < rising.length; f++) {
      const bins = this.edges[f].length
      if (bins === 0) continue
      let s = 0
      let c = 0
      for (let b = 0; b < bins; b++) {
        s += sum[f * BINS + b]
        c += count[f * BINS + b]
        const other = to - from - c
        if (c < minLeaf) continue
        if (other < minLeaf) break
        const [a, z] = [inside(s / c), inside((all - s) / other)]
        if (rising[f] === 1 && a > z) continue
        // What the split saves of the squares, with its answers held within their bounds.
        const gain = 2 * a * s - a * a * c + 2 * z * (all - s) - z * z * other - whole
        if (gain > (best?.gain ?? 1e-12)) best = { feature: f, bin: b, gain }
      }
    }
    return best
  }

  /** Puts the samples up to a bin before the others, in their order; returns where the others begin. */
  #part(from: number, to: number, feature: number, bin: number): number {
    const features = this.setup.rising.length
    const order = this.#order
    const spare = this.#spare
    let at = from
    let apart = 0
    for (let k = from; k < to; k++) {
      const i = order[k]
      if (this.bin[i * features + feature] <= bin) order[at++] = i
      else spare[apart++] = i
    }
    order.set(spare.subarray(0, apart), at)
    return at
  }
}

/**
 * Sums and counts of what is left by feature and bin, of the samples order[from] up to, not including, order[to].
 *
 * @returns the sum of all
 */
function addToBins(
  order: Readonly<Int32Array>,
  from: number,
  to: number,
  left: Readonly<Float64Array>,
  bin: Readonly<Uint8Array>,
  features: number,
  sum: Float64Array,
  count: Int32Array,
): number {
  let all = 0
  for (let k = from; k < to; k++) {
    const i = order[k]
    const value = left[i]
    all += value
    for (let f = 0, at = i * features, bins = 0; f < features; f++, at++, bins += BINS) {
      const b = bins + bin[at]
      sum[b] += value
      count[b]++
    }
  }
  return all
}

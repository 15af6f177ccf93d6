// Boosted trees: grown on samples, and asked. What they are is said in `src/match/boosted-trees.ts`. AssemblyScript.
import { COUNTS_BYTES, sortSamples } from './digits'

/** Splits lie between so many quantiles of a feature. */
const BINS: i32 = 32
/** A bin's sum and count, float64, beside each other: both are added at once. */
const BIN_BYTES: i32 = 16
/** A node's samples, from and to, int32, what its answer lies between, float64, and whether that is told, int32. */
const NODE_BYTES: i32 = 32
const NONE: i32 = -1

/** Bytes that `growTrees` works in. */
export function treesRoom(n: i32, features: i32, depth: i32): i32 {
  return (
    roundUp(4 * n) * 4 +
    roundUp(2 * n * features) +
    roundUp(8 * n) +
    roundUp(COUNTS_BYTES) +
    features * BINS * (4 + BIN_BYTES) +
    roundUp(4 * features) +
    (1 << (depth + 1)) * NODE_BYTES
  )
}

function roundUp(bytes: i32): i32 {
  return (bytes + 15) & ~15
}

/**
 * Trees of which each is grown on what those before left over. A tree is full: where a node is a leaf already, all below it say
 * the same.
 *
 * @param x       float32, `features` per sample
 * @param y       float64, one per sample
 * @param rising  one byte per feature: 1 where the answer must not fall as it grows
 * @param room    treesRoom bytes
 * @param feature receives a byte for each node that asks, 2^depth - 1 per tree
 * @param threshold receives a float32 for each of them: up to it samples go to the first of its two
 * @param value   receives 2^depth answers per tree, float64
 * @returns what all start from
 */
export function growTrees(
  x: usize,
  y: usize,
  n: i32,
  features: i32,
  rising: usize,
  trees: i32,
  depth: i32,
  rate: f64,
  minLeaf: i32,
  room: usize,
  feature: usize,
  threshold: usize,
  value: usize,
): f64 {
  const column = room
  const spare = column + roundUp(4 * n)
  const order = spare + roundUp(4 * n)
  const apart = order + roundUp(4 * n)
  const bin = apart + roundUp(4 * n)
  const left = bin + roundUp(2 * n * features)
  const counts = left + roundUp(8 * n)
  const edges = counts + roundUp(COUNTS_BYTES)
  const bins = edges + features * BINS * 4
  const splits = bins + features * BINS * BIN_BYTES
  const nodes = splits + roundUp(4 * features)

  for (let f = 0; f < features; f++) {
    const upper = edges + f * BINS * 4
    const found = edgesOf(x + ((<usize>f) << 2), n, features, column, spare, counts, upper)
    store<i32>(splits + ((<usize>f) << 2), found)
    layInBins(x + ((<usize>f) << 2), n, features, upper, found, f, bin + ((<usize>f) << 1))
  }
  const base = startAtMean(y, n, left, order)
  const asking = (1 << depth) - 1
  for (let t = 0; t < trees; t++) {
    const ask = feature + <usize>(t * asking)
    const upTo = threshold + ((<usize>(t * asking)) << 2)
    const answer = value + ((<usize>(t << depth)) << 3)
    setNode(nodes, 0, n, -Infinity, Infinity, false)
    for (let node = 0; node < asking; node++) {
      const at = nodes + <usize>(node * NODE_BYTES)
      const from = load<i32>(at)
      const to = load<i32>(at, 4)
      const low = load<f64>(at, 8)
      const high = load<f64>(at, 16)
      const first = nodes + <usize>((2 * node + 1) * NODE_BYTES)
      const second = first + NODE_BYTES
      let found = NONE
      if (!load<i32>(at, 24)) {
        memory.fill(bins, 0, features * BINS * BIN_BYTES)
        const all = addToBins(order, from, to, left, bin, features, bins)
        found = bestSplit(all, to - from, bins, splits, features, rising, low, high, minLeaf)
      }
      if (found === NONE) {
        // All of its samples go on with the first of its two, under the same bounds, and whoever asks may go either way.
        store<u8>(ask + <usize>node, 0)
        store<f32>(upTo + ((<usize>node) << 2), 0)
        setNode(first, from, to, low, high, true)
        setNode(second, NONE, NONE, low, high, true)
        continue
      }
      const f = found / BINS
      store<u8>(ask + <usize>node, f)
      store<f32>(upTo + ((<usize>node) << 2), load<f32>(edges + ((<usize>found) << 2)))
      const middle = part(order, from, to, bin + ((<usize>f) << 1), features, found * BIN_BYTES, apart)
      if (load<u8>(rising + <usize>f)) {
        const one = min(high, max(low, meanOf(order, from, middle, left)))
        const other = min(high, max(low, meanOf(order, middle, to, left)))
        const between = (one + other) / 2
        setNode(first, from, middle, low, between, false)
        setNode(second, middle, to, between, high, false)
      } else {
        setNode(first, from, middle, low, high, false)
        setNode(second, middle, to, low, high, false)
      }
    }
    answerLeaves(nodes + <usize>(asking * NODE_BYTES), 1 << depth, rate, order, left, answer)
  }
  return base
}

/** Leaves of each sample what its answer has beyond the mean of all, and lays them in their order. @returns the mean */
function startAtMean(y: usize, n: i32, left: usize, order: usize): f64 {
  let mean: f64 = 0
  for (let i = 0; i < n; i++) mean += load<f64>(y + ((<usize>i) << 3)) / <f64>n
  for (let i = 0; i < n; i++) {
    const at = (<usize>i) << 3
    store<f64>(left + at, load<f64>(y + at) - mean)
    store<i32>(order + ((<usize>i) << 2), i)
  }
  return mean
}

/** What each leaf of a tree says of its samples, which is taken from what they have left. @param nodes of its leaves */
function answerLeaves(nodes: usize, leaves: i32, rate: f64, order: usize, left: usize, answer: usize): void {
  for (let leaf = 0; leaf < leaves; leaf++) {
    const at = nodes + <usize>(leaf * NODE_BYTES)
    const from = load<i32>(at)
    const to = load<i32>(at, 4)
    if (from === NONE) continue
    const mean = meanOf(order, from, to, left)
    const kept = rate * min(load<f64>(at, 16), max(load<f64>(at, 8), mean))
    store<f64>(answer + ((<usize>leaf) << 3), kept)
    for (let k = from; k < to; k++) {
      const own = left + ((<usize>load<i32>(order + ((<usize>k) << 2))) << 3)
      store<f64>(own, load<f64>(own) - kept)
    }
  }
  for (let leaf = 1; leaf < leaves; leaf++) {
    if (load<i32>(nodes + <usize>(leaf * NODE_BYTES)) !== NONE) continue
    // Nobody went there: the nearest before it is the leaf that both are parts of.
    store<f64>(answer + ((<usize>leaf) << 3), load<f64>(answer + ((<usize>(leaf - 1)) << 3)))
  }
}

function setNode(at: usize, from: i32, to: i32, low: f64, high: f64, told: boolean): void {
  store<i32>(at, from)
  store<i32>(at, to, 4)
  store<f64>(at, low, 8)
  store<f64>(at, high, 16)
  store<i32>(at, told ? 1 : 0, 24)
}

/** The upper edges of a feature's quantiles but the last, each once, in a multiple of four: what lacks is infinite. @returns how many */
function edgesOf(
  x: usize,
  n: i32,
  features: i32,
  column: usize,
  spare: usize,
  counts: usize,
  edges: usize,
): i32 {
  for (let i = 0; i < n; i++)
    store<f32>(column + ((<usize>i) << 2), load<f32>(x + ((<usize>(i * features)) << 2)))
  sortSamples(column, n, spare, counts)
  const most = load<f32>(column + ((<usize>(n - 1)) << 2))
  let found = 0
  for (let b = 1; b < BINS; b++) {
    const edge = load<f32>(column + ((<usize>min(n - 1, (b * n) / BINS)) << 2))
    const isNew = found === 0 || edge !== load<f32>(edges + ((<usize>(found - 1)) << 2))
    if (isNew && edge < most) {
      store<f32>(edges + ((<usize>found) << 2), edge)
      found++
    }
  }
  for (let b = found; b < BINS; b++) store<f32>(edges + ((<usize>b) << 2), Infinity)
  return found
}

/** The quantile of each sample, as its bin's place in bytes among those of all features. */
function layInBins(
  x: usize,
  n: i32,
  features: i32,
  edges: usize,
  found: i32,
  feature: i32,
  bin: usize,
): void {
  const end = edges + ((<usize>found) << 2)
  for (let i = 0; i < n; i++) {
    const value = v128.load32_splat(x + ((<usize>(i * features)) << 2))
    let above = i32x4.splat(0)
    for (let at = edges; at < end; at += 16) above = i32x4.sub(above, f32x4.gt(value, v128.load(at)))
    const two = i32x4.add(above, v128.shuffle<i32>(above, above, 2, 3, 0, 1))
    const b = i32x4.extract_lane(two, 0) + i32x4.extract_lane(two, 1)
    store<u16>(bin + ((<usize>(i * features)) << 1), (feature * BINS + b) * BIN_BYTES)
  }
}

/** Sums and counts of what is left by feature and bin, of the samples order[from] up to, not including, order[to]. @returns the sum */
function addToBins(
  order: usize,
  from: i32,
  to: i32,
  left: usize,
  bin: usize,
  features: i32,
  bins: usize,
): f64 {
  let all: f64 = 0
  for (let k = from; k < to; k++) {
    const i = load<i32>(order + ((<usize>k) << 2))
    const value = load<f64>(left + ((<usize>i) << 3))
    all += value
    const both = f64x2.replace_lane(f64x2.splat(1), 0, value)
    const first = bin + ((<usize>(i * features)) << 1)
    const end = first + ((<usize>features) << 1)
    for (let b = first; b < end; b += 2) {
      const at = bins + <usize>load<u16>(b)
      v128.store(at, f64x2.add(v128.load(at), both))
    }
  }
  return all
}

/** The split that saves most, as feature * BINS + bin; NONE where none saves anything. */
function bestSplit(
  all: f64,
  n: i32,
  bins: usize,
  splits: usize,
  features: i32,
  rising: usize,
  low: f64,
  high: f64,
  minLeaf: i32,
): i32 {
  const whole = (all * all) / <f64>n
  let best = NONE
  let most: f64 = 1e-12
  for (let f = 0; f < features; f++) {
    const found = load<i32>(splits + ((<usize>f) << 2))
    let s: f64 = 0
    let c: f64 = 0
    for (let b = 0; b < found; b++) {
      const at = bins + <usize>((f * BINS + b) * BIN_BYTES)
      s += load<f64>(at)
      c += load<f64>(at, 8)
      const other = <f64>n - c
      if (c < <f64>minLeaf) continue
      if (other < <f64>minLeaf) break
      const a = min(high, max(low, s / c))
      const z = min(high, max(low, (all - s) / other))
      if (load<u8>(rising + <usize>f) && a > z) continue
      // What the split saves of the squares, with its answers held within their bounds.
      const gain = 2 * a * s - a * a * c + 2 * z * (all - s) - z * z * other - whole
      if (gain > most) {
        most = gain
        best = f * BINS + b
      }
    }
  }
  return best
}

/** Puts the samples up to a bin before the others, in their order. @returns where the others begin */
function part(order: usize, from: i32, to: i32, bin: usize, features: i32, upTo: i32, apart: usize): i32 {
  let at = from
  let others = 0
  for (let k = from; k < to; k++) {
    const i = load<i32>(order + ((<usize>k) << 2))
    // Both places are written, and the one that is kept is stepped over: which of them it is can't be foretold.
    store<i32>(order + ((<usize>at) << 2), i)
    store<i32>(apart + ((<usize>others) << 2), i)
    const first = <i32>(<i32>load<u16>(bin + ((<usize>(i * features)) << 1)) <= upTo)
    at += first
    others += 1 - first
  }
  memory.copy(order + ((<usize>at) << 2), apart, (<usize>others) << 2)
  return at
}

function meanOf(order: usize, from: i32, to: i32, left: usize): f64 {
  let sum: f64 = 0
  for (let k = from; k < to; k++)
    sum += load<f64>(left + ((<usize>load<i32>(order + ((<usize>k) << 2))) << 3))
  return sum / <f64>(to - from)
}

/**
 * What trees say of samples.
 *
 * @param x   float32, `features` per sample
 * @param feature, threshold, value as `growTrees` has them
 * @param out receives a float64 per sample
 */
export function askTrees(
  x: usize,
  n: i32,
  features: i32,
  base: f64,
  trees: i32,
  depth: i32,
  feature: usize,
  threshold: usize,
  value: usize,
  out: usize,
): void {
  const asking = (1 << depth) - 1
  for (let i = 0; i < n; i++) {
    const own = x + ((<usize>(i * features)) << 2)
    let sum = base
    for (let t = 0; t < trees; t++) {
      const ask = feature + <usize>(t * asking)
      const upTo = threshold + ((<usize>(t * asking)) << 2)
      let node = 0
      for (let d = 0; d < depth; d++) {
        const one = load<f32>(own + ((<usize>load<u8>(ask + <usize>node)) << 2))
        node = 2 * node + 2 - <i32>(one <= load<f32>(upTo + ((<usize>node) << 2)))
      }
      sum += load<f64>(value + ((<usize>((t << depth) + node - asking)) << 3))
    }
    store<f64>(out + ((<usize>i) << 3), sum)
  }
}

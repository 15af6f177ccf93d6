// How far a donor's region is expected to lie from the target's own, which nobody may look at: from how far it lies from
// clean donors near the target, from how pictures of the region drift apart with the frames between them, and from how
// far the surrounds of donor and target differ.

/** A donor's region, light-matched log2 luminance on the common grid, and when it was shot. */
export interface RegionSample {
  readonly plate: number
  readonly frame: number
  readonly aligned: Readonly<Float32Array>
  readonly exposure: number
}

/** Frames between two pictures of the region, by which their drift is grouped. */
const GAPS = [1, 3, 6, 12, 24, 48, 96, Number.POSITIVE_INFINITY]
/** Pairs looked at per group: a median over them is steady to a few per cent. */
const PAIRS = 48
/** Pixels of the region that a pair is compared on. */
const MAX_PIXELS = 4096
/** Clean donors that stand in for the target's own region, nearest first, and the frames over which they fade. */
const PROXIES = 8
const PROXY_FADE = 16
/**
 * Shares of the three in the expected squared error. On planted truth in real footage (a dozen places, still and swaying)
 * they lose 0.2 dB at the median and 1.5 dB at worst to the best donor there is; the distance from clean donors alone
 * loses 1.3 and 4.5, nearness in time alone 0.2 and 6.2, the surround alone 0.6 and 2.
 */
const SHARE = { own: 1 / 6, drift: 2 / 6, surround: 3 / 6 }

/** Mean square difference of two pictures of the region as a function of the frames between them, stops squared. */
export type Drift = (gap: number) => number

export function expectedSquare(own: number, drift: number, surround: number): number {
  return SHARE.own * own + SHARE.drift * drift + SHARE.surround * surround
}

/**
 * Measures drift on clean donors of one plate. It never falls with the gap; beyond the widest gap seen it stays.
 *
 * @param clean  in order of their frames
 * @param pixels indices of the region's pixels
 */
export function measureDrift(clean: readonly RegionSample[], pixels: Readonly<Int32Array>): Drift {
  const stride = Math.max(1, Math.floor(pixels.length / MAX_PIXELS))
  const known: { at: number; square: number }[] = []
  for (let k = 0; k + 1 < GAPS.length; k++) {
    const squares: number[] = []
    let gaps = 0
    for (const [a, b] of pairsOf(clean, GAPS[k], GAPS[k + 1])) {
      squares.push(squareDifference(a, b, pixels, stride))
      gaps += Math.abs(a.frame - b.frame)
    }
    if (squares.length === 0) continue
    squares.sort((a, b) => a - b)
    const square = Math.max(squares[squares.length >> 1], known[known.length - 1]?.square ?? 0)
    known.push({ at: Math.log(gaps / squares.length), square })
  }
  return (gap) => {
    if (known.length === 0) return 0
    const at = Math.log(Math.max(1, gap))
    const next = known.findIndex((k) => k.at >= at)
    if (next === 0) return known[0].square
    if (next === -1) return known[known.length - 1].square
    const [a, b] = [known[next - 1], known[next]]
    return a.square + ((b.square - a.square) * (at - a.at)) / (b.at - a.at)
  }
}

/** Up to PAIRS pairs of one plate whose gap lies in [low, high), spread over the plate. */
function pairsOf(clean: readonly RegionSample[], low: number, high: number): [RegionSample, RegionSample][] {
  const pairs: [RegionSample, RegionSample][] = []
  const stride = Math.max(1, Math.floor(clean.length / PAIRS))
  for (let i = 0; i < clean.length; i += stride) {
    // The nearest partner of the group: for each first frame there may be dozens that say the same.
    for (let j = i + 1; j < clean.length; j++) {
      const gap = clean[j].frame - clean[i].frame
      if (clean[j].plate !== clean[i].plate || gap >= high) break
      if (gap < low) continue
      pairs.push([clean[i], clean[j]])
      break
    }
  }
  return pairs
}

function squareDifference(
  a: RegionSample,
  b: RegionSample,
  pixels: Readonly<Int32Array>,
  stride: number,
): number {
  const light = a.exposure - b.exposure
  let sum = 0
  let n = 0
  for (let k = 0; k < pixels.length; k += stride, n++) {
    const off = a.aligned[pixels[k]] - b.aligned[pixels[k]] + light
    sum += off * off
  }
  return n > 0 ? sum / n : 0
}

/**
 * What the region most likely shows at a target frame: clean donors near it, the nearer the more. Where there is no
 * clean donor it is the clean plate.
 */
export function likelyRegion(
  clean: readonly RegionSample[],
  plate: number,
  frame: number,
  empty: Readonly<Float32Array>,
  pixels: Readonly<Int32Array>,
): Float32Array {
  const gap = (s: RegionSample) => (s.plate === plate ? Math.abs(s.frame - frame) : Number.MAX_SAFE_INTEGER)
  const near = [...clean].sort((a, b) => gap(a) - gap(b)).slice(0, PROXIES)
  const out = new Float32Array(pixels.length)
  if (near.length === 0) return out.map((_, k) => empty[pixels[k]])
  // Counted from the nearest, so that far donors still say something where none is near.
  const weights = near.map((s) => Math.exp(-Math.min(gap(s) - gap(near[0]), 1e6) / PROXY_FADE))
  const total = weights.reduce((a, b) => a + b, 0)
  for (const [j, s] of near.entries()) {
    const w = weights[j] / total
    for (let k = 0; k < out.length; k++) out[k] += w * (s.aligned[pixels[k]] + s.exposure)
  }
  return out
}

// Weighted sums of one target with many donors: what hangs on either alone is summed once. AssemblyScript.

import { addBlock, addRest, addSix, BLOCK, endOfBlock, SUMS_BYTES } from './pair-sums'
import { fourBytes, sum64 } from './simd'

/** Of each block of a target or a donor: the sum of its weights, its weighted sum and sum of squares, float64, and a mark. */
const KNOWN_BYTES: usize = 32

/** Blocks that many samples are summed in; what is left over of fours is in none. */
export function blocksIn(length: i32): i32 {
  return (length / 4 + BLOCK / 4 - 1) / (BLOCK / 4)
}

/**
 * What hangs on each row of samples alone, block by block, under weights that are the usual ones.
 *
 * @param rows     samples of the first row; those of the next lie `stride` samples further
 * @param validities likewise, 0 or 1
 * @param usual    a weight per sample
 * @param known    receives KNOWN_BYTES for each block of each row
 */
export function sumRows(
  rows: usize,
  validities: usize,
  stride: i32,
  count: i32,
  usual: usize,
  length: i32,
  known: usize,
): void {
  const bytes = <usize>blocksIn(length) * KNOWN_BYTES
  for (let k = 0; k < count; k++) {
    const first = <usize>k * <usize>stride
    sumAlone(rows + (first << 2), usual, usual, validities + first, length, known + <usize>k * bytes)
  }
}

/** Donors that a block of the target is compared with at once: one sum alone waits for itself. */
const TOGETHER: i32 = 4

/**
 * As `pairSums`, of one target with many donors, to the last bit. Where a target's weights in a block are the usual ones, or all
 * of a donor's samples may be used, what hangs on the other alone is known, and only the rest is summed.
 *
 * @param donors    samples of the first donor; those of the next lie `stride` samples further
 * @param validities likewise
 * @param usual     as `sumRows` had it, and `known` what it gave
 * @param list      which donors are compared, int32
 * @param room      KNOWN_BYTES for each block
 * @param sums      receives six float64 for each of them
 */
export function pairSumsOf(
  target: usize,
  weight: usize,
  length: i32,
  donors: usize,
  validities: usize,
  stride: i32,
  usual: usize,
  known: usize,
  list: usize,
  count: i32,
  room: usize,
  sums: usize,
): void {
  sumAlone(target, weight, usual, 0, length, room)
  memory.fill(sums, 0, <usize>count * SUMS_BYTES)
  const bytes = <usize>blocksIn(length) * KNOWN_BYTES
  const rest = length & ~3
  let k = 0
  for (; k + TOGETHER <= count; k += TOGETHER) {
    const a = <usize>load<i32>(list + ((<usize>k) << 2))
    const b = <usize>load<i32>(list + ((<usize>k) << 2), 4)
    const c = <usize>load<i32>(list + ((<usize>k) << 2), 8)
    const d = <usize>load<i32>(list + ((<usize>k) << 2), 12)
    const toA = sums + <usize>k * SUMS_BYTES
    let ofTarget = room
    let at: usize = 0
    for (let i = 0; i < rest; ) {
      const end = endOfBlock(i, length)
      const ofA = known + a * bytes + at
      const ofB = known + b * bytes + at
      const ofC = known + c * bytes + at
      const ofD = known + d * bytes + at
      const own = load<f64>(ofTarget, 24)
      const mark = min(
        min(load<f64>(ofA, 24), load<f64>(ofB, 24)),
        min(min(load<f64>(ofC, 24), load<f64>(ofD, 24)), own),
      )
      if (mark === UNUSUAL) {
        for (let n = k; n < k + TOGETHER; n++) {
          const row = <usize>load<i32>(list + ((<usize>n) << 2))
          const first = row * <usize>stride
          addAny(
            target,
            donors + (first << 2),
            weight,
            validities + first,
            i,
            end,
            ofTarget,
            known + row * bytes + at,
            sums + <usize>n * SUMS_BYTES,
          )
        }
      } else {
        addFour(
          target,
          donors + ((a * <usize>stride) << 2),
          donors + ((b * <usize>stride) << 2),
          donors + ((c * <usize>stride) << 2),
          donors + ((d * <usize>stride) << 2),
          mark === ONES ? 0 : weight,
          i,
          end,
          ofTarget,
          ofA,
          ofB,
          ofC,
          ofD,
          toA,
        )
      }
      i = end
      at += KNOWN_BYTES
      ofTarget += KNOWN_BYTES
    }
  }
  for (; k < count; k++) {
    const row = <usize>load<i32>(list + ((<usize>k) << 2))
    const first = row * <usize>stride
    let at: usize = 0
    for (let i = 0; i < rest; ) {
      const end = endOfBlock(i, length)
      const ofDonor = known + row * bytes + at
      const to = sums + <usize>k * SUMS_BYTES
      addAny(target, donors + (first << 2), weight, validities + first, i, end, room + at, ofDonor, to)
      i = end
      at += KNOWN_BYTES
    }
  }
  for (k = 0; k < count; k++) {
    const first = <usize>load<i32>(list + ((<usize>k) << 2)) * <usize>stride
    const to = sums + <usize>k * SUMS_BYTES
    addRest(target, donors + (first << 2), weight, validities + first, rest, length, to)
  }
}

/** In place of a mark: weights are not the usual ones, or not all samples may be used; they are; they are, and are all 1. */
const UNUSUAL: f64 = 0
const USUAL: f64 = 1
const ONES: f64 = 2

/** Sums of w, w x and w x x of each block, and its mark. @param validity a null pointer: all may be used */
function sumAlone(
  samples: usize,
  weight: usize,
  usual: usize,
  validity: usize,
  length: i32,
  known: usize,
): void {
  const one = f32x4.splat(1)
  let i = 0
  let at = known
  while (i + 4 <= length) {
    const from = i
    const end = endOfBlock(i, length)
    let aw = f32x4.splat(0)
    let ax = f32x4.splat(0)
    let axx = f32x4.splat(0)
    let isUsual = i32x4.splat(-1)
    let isOne = i32x4.splat(-1)
    for (; i < end; i += 4) {
      const byte = (<usize>i) << 2
      const x = v128.load(samples + byte)
      let wv = v128.load(weight + byte)
      isUsual = v128.and(isUsual, f32x4.eq(wv, v128.load(usual + byte)))
      isOne = v128.and(isOne, f32x4.eq(wv, one))
      if (validity) wv = f32x4.mul(wv, f32x4.convert_i32x4_s(fourBytes(validity + <usize>i)))
      const wx = f32x4.mul(wv, x)
      aw = f32x4.add(aw, wv)
      ax = f32x4.add(ax, wx)
      axx = f32x4.add(axx, f32x4.mul(wx, x))
    }
    let mark = i32x4.all_true(isOne) ? ONES : USUAL
    if (!i32x4.all_true(isUsual)) mark = UNUSUAL
    if (validity && !isAllValid(validity + <usize>from, validity + <usize>i)) mark = UNUSUAL
    store<f64>(at, sum64(aw))
    store<f64>(at, sum64(ax), 8)
    store<f64>(at, sum64(axx), 16)
    store<f64>(at, mark, 24)
    at += KNOWN_BYTES
  }
}

/** Whether all bytes of a block, each 0 or 1, are 1. */
function isAllValid(from: usize, to: usize): boolean {
  for (let at = from; at < to; at += 4) if (load<u32>(at) !== 0x01010101) return false
  return true
}

/**
 * As `addDifference`, of four donors.
 *
 * @param a, b, c, d their samples
 * @param weight     a null pointer: all 1
 * @param ofA        what is known of the first one's block, and so on
 * @param sums       of the first; those of the others follow
 */
function addFour(
  target: usize,
  a: usize,
  b: usize,
  c: usize,
  d: usize,
  weight: usize,
  from: i32,
  end: i32,
  ofTarget: usize,
  ofA: usize,
  ofB: usize,
  ofC: usize,
  ofD: usize,
  sums: usize,
): void {
  const past = (<usize>end) << 2
  let eeA = f32x4.splat(0)
  let eeB = f32x4.splat(0)
  let eeC = f32x4.splat(0)
  let eeD = f32x4.splat(0)
  if (weight === 0) {
    for (let byte = (<usize>from) << 2; byte < past; byte += 16) {
      const t = v128.load(target + byte)
      const offA = f32x4.sub(t, v128.load(a + byte))
      const offB = f32x4.sub(t, v128.load(b + byte))
      const offC = f32x4.sub(t, v128.load(c + byte))
      const offD = f32x4.sub(t, v128.load(d + byte))
      eeA = f32x4.add(eeA, f32x4.mul(offA, offA))
      eeB = f32x4.add(eeB, f32x4.mul(offB, offB))
      eeC = f32x4.add(eeC, f32x4.mul(offC, offC))
      eeD = f32x4.add(eeD, f32x4.mul(offD, offD))
    }
  } else {
    for (let byte = (<usize>from) << 2; byte < past; byte += 16) {
      const t = v128.load(target + byte)
      const w = v128.load(weight + byte)
      const offA = f32x4.sub(t, v128.load(a + byte))
      const offB = f32x4.sub(t, v128.load(b + byte))
      const offC = f32x4.sub(t, v128.load(c + byte))
      const offD = f32x4.sub(t, v128.load(d + byte))
      eeA = f32x4.add(eeA, f32x4.mul(w, f32x4.mul(offA, offA)))
      eeB = f32x4.add(eeB, f32x4.mul(w, f32x4.mul(offB, offB)))
      eeC = f32x4.add(eeC, f32x4.mul(w, f32x4.mul(offC, offC)))
      eeD = f32x4.add(eeD, f32x4.mul(w, f32x4.mul(offD, offD)))
    }
  }
  addKnown(ofTarget, ofA, eeA, sums)
  addKnown(ofTarget, ofB, eeB, sums + SUMS_BYTES)
  addKnown(ofTarget, ofC, eeC, sums + 2 * SUMS_BYTES)
  addKnown(ofTarget, ofD, eeD, sums + 3 * SUMS_BYTES)
}

/** As `addBlock`, without what is known. @param ofTarget, ofDonor what is known of the block */
function addAny(
  target: usize,
  donor: usize,
  weight: usize,
  validity: usize,
  from: i32,
  end: i32,
  ofTarget: usize,
  ofDonor: usize,
  sums: usize,
): void {
  const usual = load<f64>(ofTarget, 24) !== UNUSUAL
  const whole = load<f64>(ofDonor, 24) !== UNUSUAL
  if (usual && whole) addDifference(target, donor, weight, from, end, ofTarget, ofDonor, sums)
  else if (usual) addOfTarget(target, donor, weight, validity, from, end, ofDonor, sums)
  else if (whole) addOfDonor(target, donor, weight, from, end, ofTarget, sums)
  else addBlock(target, donor, weight, validity, from, end, sums)
}

/** As `addBlock` where what hangs on either alone is known. */
function addDifference(
  target: usize,
  donor: usize,
  weight: usize,
  from: i32,
  end: i32,
  ofTarget: usize,
  ofDonor: usize,
  sums: usize,
): void {
  let aee = f32x4.splat(0)
  for (let i = from; i < end; i += 4) {
    const byte = (<usize>i) << 2
    const e = f32x4.sub(v128.load(target + byte), v128.load(donor + byte))
    aee = f32x4.add(aee, f32x4.mul(v128.load(weight + byte), f32x4.mul(e, e)))
  }
  addKnown(ofTarget, ofDonor, aee, sums)
}

/** As `addBlock` where the target's weights are the usual ones, but not all of the donor may be used: its own sums are known. */
function addOfTarget(
  target: usize,
  donor: usize,
  weight: usize,
  validity: usize,
  from: i32,
  end: i32,
  ofDonor: usize,
  sums: usize,
): void {
  let at = f32x4.splat(0)
  let att = f32x4.splat(0)
  let aee = f32x4.splat(0)
  for (let i = from; i < end; i += 4) {
    const byte = (<usize>i) << 2
    const t = v128.load(target + byte)
    const valid = f32x4.convert_i32x4_s(fourBytes(validity + <usize>i))
    const w = f32x4.mul(v128.load(weight + byte), valid)
    const wt = f32x4.mul(w, t)
    at = f32x4.add(at, wt)
    att = f32x4.add(att, f32x4.mul(wt, t))
    const e = f32x4.sub(t, v128.load(donor + byte))
    aee = f32x4.add(aee, f32x4.mul(w, f32x4.mul(e, e)))
  }
  addSix(
    sums,
    load<f64>(ofDonor),
    sum64(at),
    load<f64>(ofDonor, 8),
    sum64(att),
    load<f64>(ofDonor, 16),
    sum64(aee),
  )
}

/** As `addBlock` where all of the donor may be used, but the target's weights are not the usual ones: its own sums are known. */
function addOfDonor(
  target: usize,
  donor: usize,
  weight: usize,
  from: i32,
  end: i32,
  ofTarget: usize,
  sums: usize,
): void {
  let ad = f32x4.splat(0)
  let add = f32x4.splat(0)
  let aee = f32x4.splat(0)
  for (let i = from; i < end; i += 4) {
    const byte = (<usize>i) << 2
    const d = v128.load(donor + byte)
    const w = v128.load(weight + byte)
    const wd = f32x4.mul(w, d)
    ad = f32x4.add(ad, wd)
    add = f32x4.add(add, f32x4.mul(wd, d))
    const e = f32x4.sub(v128.load(target + byte), d)
    aee = f32x4.add(aee, f32x4.mul(w, f32x4.mul(e, e)))
  }
  addSix(
    sums,
    load<f64>(ofTarget),
    load<f64>(ofTarget, 8),
    sum64(ad),
    load<f64>(ofTarget, 16),
    sum64(add),
    sum64(aee),
  )
}

/** Adds what is known of a block, and what its samples differ by. */
function addKnown(ofTarget: usize, ofDonor: usize, aee: v128, sums: usize): void {
  addSix(
    sums,
    load<f64>(ofTarget),
    load<f64>(ofTarget, 8),
    load<f64>(ofDonor, 8),
    load<f64>(ofTarget, 16),
    load<f64>(ofDonor, 16),
    sum64(aee),
  )
}

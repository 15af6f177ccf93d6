// Bytes that a file stores as differences. AssemblyScript.

/**
 * Turns differences into bytes and brings the two halves, which hold the even and the odd bytes, together: OpenEXR's predictor,
 * byte for byte (openexr.com, "Technical Introduction"). The even ones are summed in place, the odd ones on their way out.
 *
 * @param bytes changed
 * @param out   as many bytes
 */
export function undoPredictor(bytes: usize, out: usize, length: i32): void {
  const half = (length + 1) >> 1
  const odd = bytes + <usize>half
  let last = i8x16.splat(-128)
  let i = 0
  for (; i + 16 <= half; i += 16) {
    const v = i8x16.add(sums(v128.load(bytes + <usize>i)), last)
    v128.store(bytes + <usize>i, v)
    last = lastOf(v)
  }
  let sum = i8x16.extract_lane_u(last, 0)
  for (; i < half; i++) {
    sum = <u8>(sum + load<u8>(bytes + <usize>i) - 128)
    store<u8>(bytes + <usize>i, sum)
  }
  last = i8x16.splat(<i8>sum)
  let k = 0
  for (; k + 16 <= length - half; k += 16) {
    const a = v128.load(bytes + <usize>k)
    const b = i8x16.add(sums(v128.load(odd + <usize>k)), last)
    last = lastOf(b)
    const to = out + ((<usize>k) << 1)
    v128.store(to, v128.shuffle<u8>(a, b, 0, 16, 1, 17, 2, 18, 3, 19, 4, 20, 5, 21, 6, 22, 7, 23))
    v128.store(to, v128.shuffle<u8>(a, b, 8, 24, 9, 25, 10, 26, 11, 27, 12, 28, 13, 29, 14, 30, 15, 31), 16)
  }
  sum = i8x16.extract_lane_u(last, 0)
  for (; k < half; k++) {
    store<u8>(out + ((<usize>k) << 1), load<u8>(bytes + <usize>k))
    if (half + k === length) break
    sum = <u8>(sum + load<u8>(odd + <usize>k) - 128)
    store<u8>(out + ((<usize>k) << 1) + 1, sum)
  }
}

/**
 * Of sixteen differences, each 128 too much, the sum of each and all before it: the vector is added to itself moved on by 1, 2, 4 and 8
 * bytes (W. D. Hillis, G. L. Steele, Data Parallel Algorithms, 1986).
 */
function sums(differences: v128): v128 {
  const none = i8x16.splat(0)
  let v = i8x16.sub(differences, i8x16.splat(-128))
  v = i8x16.add(v, v128.shuffle<u8>(none, v, 0, 16, 17, 18, 19, 20, 21, 22, 23, 24, 25, 26, 27, 28, 29, 30))
  v = i8x16.add(v, v128.shuffle<u8>(none, v, 0, 0, 16, 17, 18, 19, 20, 21, 22, 23, 24, 25, 26, 27, 28, 29))
  v = i8x16.add(v, v128.shuffle<u8>(none, v, 0, 0, 0, 0, 16, 17, 18, 19, 20, 21, 22, 23, 24, 25, 26, 27))
  return i8x16.add(v, v128.shuffle<u8>(none, v, 0, 0, 0, 0, 0, 0, 0, 0, 16, 17, 18, 19, 20, 21, 22, 23))
}

/** The last of sixteen bytes in all places: within the vector, as the next sixteen wait for it. */
function lastOf(v: v128): v128 {
  return v128.shuffle<u8>(v, v, 15, 15, 15, 15, 15, 15, 15, 15, 15, 15, 15, 15, 15, 15, 15, 15)
}

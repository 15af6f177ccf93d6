// Marks and weights at half the size.

/** 1 where all four pixels are 1; an odd last row or column is left out, as `halve` has it. */
export function halfBits(bits: Readonly<Uint8Array>, width: number, height: number): Uint8Array<ArrayBuffer> {
  const [w, h] = [width >> 1, height >> 1]
  const out = new Uint8Array(w * h)
  for (let y = 0, i = 0; y < h; y++)
    for (let x = 0, a = 2 * y * width; x < w; x++, i++, a += 2)
      out[i] = bits[a] & bits[a + 1] & bits[a + width] & bits[a + width + 1]
  return out
}

/** A half-size pixel counts only where all four of its pixels do, so that nothing masked leaks in. */
export function halveWeights(weight: Readonly<Float32Array>, width: number, height: number): Float32Array {
  const w = width >> 1
  const h = height >> 1
  const out = new Float32Array(w * h)
  for (let y = 0, i = 0; y < h; y++) {
    let a = 2 * y * width
    for (let x = 0; x < w; x++, i++, a += 2) {
      out[i] = Math.min(weight[a], weight[a + 1], weight[a + width], weight[a + width + 1])
    }
  }
  return out
}

// Outlines filled by the exact area that they cover of each pixel. AssemblyScript.

/**
 * Adds what straight edges change from each pixel to the one on its right: what lies to the right of an edge is covered by as
 * much of a pixel's height as the edge spans, and of the pixels that the edge passes through only what lies to its right.
 * Summed along a row that is the covered area, 1 inside and 0 outside, negative where the outline runs the other way.
 *
 * @param edges  `count` times x0, y0, x1, y1, float32; scaled by `scale` and moved by (x, y) they lie within the sums
 * @param sums   [height, width] float32, changed
 */
export function addEdges(
  edges: usize,
  count: i32,
  scale: f32,
  x: f32,
  y: f32,
  sums: usize,
  width: i32,
): void {
  for (let i = 0; i < count; i++, edges += 16) {
    const y0 = load<f32>(edges, 4) * scale + y
    const y1 = load<f32>(edges, 12) * scale + y
    if (y0 === y1) continue
    const x0 = load<f32>(edges) * scale + x
    const x1 = load<f32>(edges, 8) * scale + x
    if (y0 < y1) addEdge(x0, y0, x1, y1, 1, sums, width)
    else addEdge(x1, y1, x0, y0, -1, sums, width)
  }
}

/** An edge that runs down, row by row. */
function addEdge(x0: f32, y0: f32, x1: f32, y1: f32, sign: f32, sums: usize, width: i32): void {
  const slope = (x1 - x0) / (y1 - y0)
  const left = min(x0, x1)
  const right = max(x0, x1)
  let x = x0
  let y = y0
  while (y < y1) {
    const row = floor(y)
    const end = min(row + 1, y1)
    // Rounding must not carry it beyond the edge's own ends.
    const next = end === y1 ? x1 : max(left, min(right, x0 + (end - y0) * slope))
    addPiece(x, next, sign * (end - y), sums + ((<usize>row * <usize>width) << 2))
    x = next
    y = end
  }
}

/** A piece of an edge within one row, pixel by pixel. @param height with its sign */
function addPiece(from: f32, to: f32, height: f32, row: usize): void {
  const left = min(from, to)
  const right = max(from, to)
  const first = floor(left)
  if (right <= first + 1) {
    addPart(row, first, 0.5 * (left + right) - first, height)
    return
  }
  const perPixel = height / (right - left)
  let x = left
  for (let pixel = first; x < right; pixel += 1) {
    const end = min(pixel + 1, right)
    addPart(row, pixel, 0.5 * (x + end) - pixel, perPixel * (end - x))
    x = end
  }
}

/** @param mean where in the pixel the part lies, 0 to 1 from its left */
function addPart(row: usize, pixel: f32, mean: f32, height: f32): void {
  const at = row + ((<usize>pixel) << 2)
  store<f32>(at, load<f32>(at) + height * (1 - mean))
  store<f32>(at, load<f32>(at, 4) + height * mean, 4)
}

/**
 * Lays grey over a picture where sums say that it is covered.
 *
 * @param sums    [height, row] float32, of addEdges; `width` of each row lie in the picture
 * @param samples 8-bit RGB, rows `pitch` bytes apart, changed
 * @param grey    code, 0 to 255
 */
export function layCovered(
  sums: usize,
  row: i32,
  width: i32,
  height: i32,
  samples: usize,
  pitch: i32,
  grey: f32,
): void {
  for (let y = 0; y < height; y++, samples += <usize>pitch, sums += (<usize>row) << 2) {
    let sum: f32 = 0
    for (let x = 0, to = samples; x < width; x++, to += 3) {
      sum += load<f32>(sums + ((<usize>x) << 2))
      const covered = min<f32>(1, abs(sum))
      // Less than half a step of any code.
      if (covered < 0.001) continue
      for (let c: usize = 0; c < 3; c++) {
        const under = <f32>load<u8>(to + c)
        store<u8>(to + c, <u8>(under + covered * (grey - under) + 0.5))
      }
    }
  }
}

// How far donors lie from what is likely there, pixel by pixel and summed up by tiles. AssemblyScript.

/**
 * What witnesses say that pixels show, without the word of one of them.
 *
 * @param sums     what all of them show, weighted, float64 over the window
 * @param weights  likewise, their weights
 * @param lastRank per pixel of the window the rank of the last witness that was asked, int32
 * @param level    float32 over the window: what a pixel shows of which nobody else says anything
 * @param aligned  the one witness over the window, float32, with `exposure` to be added
 * @param dirt     1 over the window where it said nothing
 * @param rank, said its own rank, and its weight
 * @param least    weight that is none
 * @param pixels   the pixels that are asked for, int32 places in the window
 * @param likely   receives a float64 for each
 */
export function likelyWithout(
  sums: usize,
  weights: usize,
  lastRank: usize,
  level: usize,
  aligned: usize,
  exposure: f64,
  dirt: usize,
  rank: i32,
  said: f64,
  least: f64,
  pixels: usize,
  count: i32,
  likely: usize,
): void {
  for (let k = 0; k < count; k++) {
    const i = <usize>load<i32>(pixels + ((<usize>k) << 2))
    const single = i << 2
    const double = i << 3
    const mine: f64 = load<u8>(dirt + i) === 0 && rank <= load<i32>(lastRank + single) ? said : 0
    const weight = load<f64>(weights + double) - mine
    const shown: f64 =
      weight > least
        ? (load<f64>(sums + double) - mine * (<f64>load<f32>(aligned + single) + exposure)) / weight
        : <f64>load<f32>(level + single)
    store<f64>(likely + ((<usize>k) << 3), shown)
  }
}

/**
 * Square distances of a donor from what is likely there, summed up by tiles, single.
 *
 * @param aligned  over the window, float32, with `exposure` to be added
 * @param likely   float64 for each pixel
 * @param unit     what a square is multiplied by
 * @param dirt     1 over the window where a pixel is dirty
 * @param pixels   int32 places in the window, row by row
 * @param tileOf   the tile of each, int32
 * @param tiles    how many there are
 * @param own      receives the sum of a tile's clean pixels, float32
 * @param all      that of all its pixels
 * @param dirty    receives how many of them are dirty, int32
 */
export function tileDistances(
  aligned: usize,
  exposure: f64,
  likely: usize,
  unit: f64,
  dirt: usize,
  pixels: usize,
  tileOf: usize,
  count: i32,
  tiles: i32,
  own: usize,
  all: usize,
  dirty: usize,
): void {
  const bytes = (<usize>tiles) << 2
  memory.fill(own, 0, bytes)
  memory.fill(all, 0, bytes)
  memory.fill(dirty, 0, bytes)
  for (let k = 0; k < count; ) {
    const tile = load<i32>(tileOf + ((<usize>k) << 2))
    const at = (<usize>tile) << 2
    let ofOwn = load<f32>(own + at)
    let ofAll = load<f32>(all + at)
    let marked = 0
    for (; k < count && load<i32>(tileOf + ((<usize>k) << 2)) === tile; k++) {
      const i = <usize>load<i32>(pixels + ((<usize>k) << 2))
      const off = <f64>load<f32>(aligned + (i << 2)) + exposure - load<f64>(likely + ((<usize>k) << 3))
      const square = off * off * unit
      ofAll = <f32>(<f64>ofAll + square)
      if (load<u8>(dirt + i) === 1) marked++
      else ofOwn = <f32>(<f64>ofOwn + square)
    }
    store<f32>(own + at, ofOwn)
    store<f32>(all + at, ofAll)
    store<i32>(dirty + at, load<i32>(dirty + at) + marked)
  }
}

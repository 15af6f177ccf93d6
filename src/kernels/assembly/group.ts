// The largest group of samples that agree, of many short columns at once. AssemblyScript.

/** Mean of float32 from one index up to, not including, another. */
function meanOf(sorted: usize, from: i32, to: i32): f64 {
  let sum: f64 = 0
  for (let i = from; i < to; i++) sum += <f64>load<f32>(sorted + ((<usize>i) << 2))
  return sum / <f64>(to - from)
}

/** As float64. */
function sampleAt(sorted: usize, i: i32): f64 {
  return <f64>load<f32>(sorted + ((<usize>i) << 2))
}

/** How far from a value the nearest half of a column's first `end` samples reach. */
function halfWithin(sorted: usize, end: i32, value: f64): f64 {
  let high = 0
  while (high < end && sampleAt(sorted, high) < value) high++
  let low = high - 1
  let reach: f64 = 0
  for (let left = (end + 1) >> 1; left > 0; left--) {
    const down = low >= 0 ? value - sampleAt(sorted, low) : Infinity
    const up = high < end ? sampleAt(sorted, high) - value : Infinity
    reach = min(down, up)
    if (down < up) low--
    else high++
  }
  return reach
}

/**
 * Per column the mean of its largest agreeing group, the group's standard deviation about that mean as it is stored, its share
 * of the samples, and how far from that mean the nearest half of all samples reach: see `src/match/clean-plate.ts`.
 *
 * @param sorted  `length` samples per column, ascending
 * @param seen    how many of them count, int32; below `few` the first is the level and nothing else is written
 * @param share   of the samples whose shortest interval is looked for
 * @param lengthSigma that interval's length in sigma, normally distributed
 * @param widthSigma  samples this near the group's middle belong to it
 * @param least   sigma at least
 * @param level, spread, support, half receive a float32 per column
 */
export function agreeingGroups(
  sorted: usize,
  seen: usize,
  columns: i32,
  length: i32,
  few: i32,
  share: f64,
  lengthSigma: f64,
  widthSigma: f64,
  least: f64,
  level: usize,
  spread: usize,
  support: usize,
  half: usize,
): void {
  for (let c = 0; c < columns; c++) {
    const out = (<usize>c) << 2
    const column = sorted + ((<usize>(c * length)) << 2)
    const end = load<i32>(seen + out)
    if (end < few) {
      store<f32>(level + out, end > 0 ? load<f32>(column) : 0)
      continue
    }
    const size = max(2, <i32>Math.ceil(share * <f64>end))
    let from = 0
    let shortest: f64 = Infinity
    for (let a = 0; a + size <= end; a++) {
      const span = sampleAt(column, a + size - 1) - sampleAt(column, a)
      if (span < shortest) {
        shortest = span
        from = a
      }
    }
    const sigma = Math.max(least, shortest / lengthSigma)
    let to = from + size
    const width = 2 * sigma
    let most = size
    for (let a = 0; a + most < end; a++) {
      while (a + most < end && sampleAt(column, a + most) - sampleAt(column, a) <= width) {
        most++
        from = a
        to = a + most
      }
    }
    const middle = meanOf(column, from, to)
    let low = from
    let high = to
    while (low > 0 && sampleAt(column, low - 1) >= middle - widthSigma * sigma) low--
    while (high < end && sampleAt(column, high) <= middle + widthSigma * sigma) high++
    const mean = <f32>meanOf(column, low, high)
    let squares: f64 = 0
    for (let i = low; i < high; i++) {
      const off = sampleAt(column, i) - <f64>mean
      squares += off * off
    }
    store<f32>(level + out, mean)
    store<f32>(spread + out, <f32>Math.sqrt(squares / <f64>(high - low)))
    store<f32>(support + out, <f32>(<f64>(high - low) / <f64>end))
    store<f32>(half + out, <f32>halfWithin(column, end, <f64>mean))
  }
}

// What is another picture from one frame to the next. AssemblyScript.

/**
 * Adds to `sums` (float64) the squares of the change from one picture to the next and of what the first shows beside its means,
 * at places that are steady in both, and at how many that is; then the squares of the change and of its finest diagonal band,
 * where the three other pixels of that are steady, too.
 *
 * @param places indices, int32, `n` of them
 * @param light  means of the picture `from`
 * @param lightFrom, lightTo stops that bring the pictures to one light
 * @param length samples of a picture, rows of `width`
 */
export function addLife(
  places: usize,
  n: i32,
  from: usize,
  to: usize,
  steadyFrom: usize,
  steadyTo: usize,
  light: usize,
  lightFrom: f64,
  lightTo: f64,
  width: i32,
  length: i32,
  sums: usize,
): void {
  let change = load<f64>(sums)
  let detail = load<f64>(sums, 8)
  let count = load<f64>(sums, 16)
  let banded = load<f64>(sums, 24)
  let white = load<f64>(sums, 32)
  for (let k = 0; k < n; k++) {
    const i = <usize>load<i32>(places + ((<usize>k) << 2))
    if (load<u8>(steadyFrom + i) === 0 || load<u8>(steadyTo + i) === 0) continue
    const at = i << 2
    const old: f64 = load<f32>(from + at)
    const next: f64 = load<f32>(to + at)
    const changed = next + lightTo - old - lightFrom
    const stands = old - <f64>load<f32>(light + at)
    change += changed * changed
    detail += stands * stands
    count += 1
    const right = i + 1
    const down = i + <usize>width
    const across = down + 1
    if (<i32>right % width === 0 || <i32>across >= length) continue
    if ((load<u8>(steadyFrom + right) & load<u8>(steadyFrom + down) & load<u8>(steadyFrom + across)) === 0)
      continue
    if ((load<u8>(steadyTo + right) & load<u8>(steadyTo + down) & load<u8>(steadyTo + across)) === 0) continue
    const band =
      (next -
        old -
        <f64>load<f32>(to + (right << 2)) +
        <f64>load<f32>(from + (right << 2)) -
        <f64>load<f32>(to + (down << 2)) +
        <f64>load<f32>(from + (down << 2)) +
        <f64>load<f32>(to + (across << 2)) -
        <f64>load<f32>(from + (across << 2))) /
      2
    banded += changed * changed
    white += band * band
  }
  store<f64>(sums, change)
  store<f64>(sums, detail, 8)
  store<f64>(sums, count, 16)
  store<f64>(sums, banded, 24)
  store<f64>(sums, white, 32)
}

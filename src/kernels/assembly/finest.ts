// The finest of one picture put in the place of another's, a channel of interleaved RGB at a time. AssemblyScript; told in
// float64, and rounded to float32 only where it is stored.

/** Writes 1 where a mask is above 0 and both bytes are 1, else 0. */
export function commonPixels(inside: usize, there: usize, also: usize, out: usize, length: i32): void {
  for (let i: usize = 0; i < <usize>length; i++) {
    const counts = load<f32>(inside + (i << 2)) > 0 && load<u8>(there + i) === 1 && load<u8>(also + i) === 1
    store<f32>(out + (i << 2), counts ? 1 : 0)
  }
}

/** `change` times what a donor differs by where a pixel counts as 1, else 0. @param more receives a plane */
export function finestOf(
  own: usize,
  donor: usize,
  counts: usize,
  channel: i32,
  change: f64,
  more: usize,
  length: i32,
): void {
  let at = (<usize>channel) << 2
  for (let i: usize = 0; i < <usize>length; i++, at += 12) {
    const off = <f64>load<f32>(donor + at) - <f64>load<f32>(own + at)
    store<f32>(more + (i << 2), load<f32>(counts + (i << 2)) === 1 ? <f32>(change * off) : 0)
  }
}

/** Adds it, less its mean over the pixels round about that count. @param around share of them that do */
export function addFinest(
  more: usize,
  light: usize,
  around: usize,
  counts: usize,
  channel: i32,
  own: usize,
  length: i32,
): void {
  let at = own + ((<usize>channel) << 2)
  for (let i: usize = 0; i < (<usize>length) << 2; i += 4, at += 12) {
    if (load<f32>(counts + i) !== 1) continue
    const mean = <f64>load<f32>(light + i) / <f64>load<f32>(around + i)
    store<f32>(at, <f32>(<f64>load<f32>(at) + (<f64>load<f32>(more + i) - mean)))
  }
}

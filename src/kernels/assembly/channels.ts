// Channels of interleaved RGB, float32. AssemblyScript.

/** One channel by itself. @param channel 0 to 2 */
export function takeChannel(rgb: usize, channel: i32, out: usize, length: i32): void {
  const from = rgb + <usize>(4 * channel)
  for (let i: usize = 0; i < <usize>length; i++) store<f32>(out + (i << 2), load<f32>(from + i * 12))
}

/** ... and back to its place. */
export function putChannel(plane: usize, channel: i32, rgb: usize, length: i32): void {
  const to = rgb + <usize>(4 * channel)
  for (let i: usize = 0; i < <usize>length; i++) store<f32>(to + i * 12, load<f32>(plane + (i << 2)))
}

/** Marks pixels that have a sample that is not finite with 1, the others with 0. @returns how many there are */
export function markHoles(rgb: usize, out: usize, length: i32): i32 {
  let count = 0
  for (let i: usize = 0; i < <usize>length; i++) {
    const at = rgb + i * 12
    const r = load<f32>(at)
    const g = load<f32>(at, 4)
    const b = load<f32>(at, 8)
    // Of infinity and of NaN nothing is left over.
    const hole = r - r !== 0 || g - g !== 0 || b - b !== 0
    store<u8>(out + i, hole ? 1 : 0)
    if (hole) count++
  }
  return count
}

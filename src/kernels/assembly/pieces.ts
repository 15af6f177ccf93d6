// Pixels that hang together. AssemblyScript.

/** The first pixel from `start` on that is marked and within the mask and was not seen, bytes; `length` where there is none. */
export function nextPiece(marked: usize, mask: usize, seen: usize, start: i32, length: i32): i32 {
  for (let i = start; i < length; i++) {
    const at = <usize>i
    if (load<u8>(marked + at) !== 0 && load<u8>(mask + at) !== 0 && load<u8>(seen + at) === 0) return i
  }
  return length
}

/**
 * Lists the marked pixels that hang together with one, corners included, nearest first.
 *
 * @param seen  a byte per pixel, set to 1 for what is listed
 * @param queue receives their indices, int32
 * @returns how many they are
 */
export function connected(
  marked: usize,
  width: i32,
  height: i32,
  start: i32,
  seen: usize,
  queue: usize,
): i32 {
  let last = 1
  store<i32>(queue, start)
  store<u8>(seen + <usize>start, 1)
  for (let first = 0; first < last; first++) {
    const i = load<i32>(queue + ((<usize>first) << 2))
    const x = i % width
    const y = i / width
    const left = x > 0 ? i - 1 : i
    const right = x < width - 1 ? i + 1 : i
    const bottom = y < height - 1 ? width : 0
    for (let v = y > 0 ? -width : 0; v <= bottom; v += width)
      for (let n = left + v; n <= right + v; n++) {
        const at = <usize>n
        if (load<u8>(marked + at) === 0 || load<u8>(seen + at) === 1) continue
        store<u8>(seen + at, 1)
        store<i32>(queue + ((<usize>last) << 2), n)
        last++
      }
  }
  return last
}

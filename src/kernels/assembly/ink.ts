// Ink laid over an opaque picture. AssemblyScript.

/**
 * T. Porter, T. Duff, Compositing Digital Images (1984), `over`, in float32, and cut to a code.
 *
 * @param samples 8-bit RGB, rows `pitch` bytes apart, changed
 * @param ink     8-bit RGBA, [height, width], not premultiplied, room up to a multiple of four pixels
 */
export function layInk(samples: usize, pitch: i32, ink: usize, width: i32, height: i32): void {
  for (let y = 0; y < height; y++, samples += <usize>pitch, ink += (<usize>width) << 2)
    layRow(samples, ink, width)
}

function layRow(samples: usize, ink: usize, length: i32): void {
  const opacity = i32x4.splat(<i32>0xff000000)
  for (let i: usize = 0; i < <usize>length; i += 4) {
    // Most of a sheet has none.
    if (!v128.any_true(v128.and(v128.load(ink + (i << 2)), opacity))) continue
    const end = min(i + 4, <usize>length)
    for (let k = i; k < end; k++) layPixel(samples + 3 * k, ink + (k << 2))
  }
}

function layPixel(to: usize, ink: usize): void {
  const own = load<u8>(ink, 3)
  if (own === 0) return
  const alpha = share(own)
  const through = <f32>1 - alpha
  for (let c: usize = 0; c < 3; c++) {
    const over = share(load<u8>(ink + c)) * alpha
    const under = through * share(load<u8>(to + c))
    store<u8>(to + c, <u8>((over + under) * <f32>255))
  }
}

function share(code: u8): f32 {
  return <f32>code / <f32>255
}

// A patch laid over a picture.
import { type Frame, frame } from '../raster/frame.js'

/** Puts a patch over a picture; where alpha is 0 the picture's own samples stay, bit by bit. */
export function over(patch: Frame, alpha: Readonly<Float32Array>, under: Frame): Frame {
  const out = frame(under.shape[0], under.shape[1], 3, under.data.slice())
  for (let i = 0; i < alpha.length; i++) {
    const a = alpha[i]
    if (a === 0) continue
    for (let c = 3 * i; c < 3 * i + 3; c++) {
      out.data[c] = a === 1 ? patch.data[c] : a * patch.data[c] + (1 - a) * under.data[c]
    }
  }
  return out
}

// The pictures of a patch as they lie on the disk, and what becomes of the plate with them.
import { join } from 'node:path'
import { isEncoding } from '../../colour/encoding.js'
import { decodeInPlace } from '../../colour/transfer.js'
import { readRect } from '../../footage/plate.js'
import { readerFor } from '../../footage/readers.js'
import { type Frame, frame } from '../../raster/frame.js'
import type { Rect } from '../../raster/rect.js'
import type { Patch, PatchFrame } from '../../repair/hand-over/patch.js'
import type { RepairJob } from '../../repair/repair.js'

/** Linear light over the region's window. */
export interface CheckPictures {
  readonly target: Frame
  /** What the file changes the target by; null for whole frames, which are the result. */
  readonly laid: { readonly colours: Frame; readonly alpha: Float32Array | null } | null
  readonly result: Frame
}

/** @throws FRAME_UNREADABLE of the plate, and what a reader says of a file */
export async function checkPictures(
  folder: string,
  { target: plate }: RepairJob,
  { what, encoding, alpha: kind }: Patch,
  { target: number, file }: PatchFrame,
  rect: Rect,
): Promise<CheckPictures> {
  const path = join(folder, file)
  const reader = (await readerFor(path))!
  const [target, colours, alphaOf] = await Promise.all([
    readRect(plate, number, rect),
    reader.read(path, rect),
    what === 'patch' ? reader.readAlpha!(path, rect) : null,
  ])
  if (encoding !== 'linear' && isEncoding(encoding)) decodeInPlace(colours.data, encoding)
  if (what === 'repaired' || what === 'borrowed') return { target, laid: null, result: colours }
  const result = frame(rect.h, rect.w, 3)
  if (what === 'ratio') {
    for (let i = 0; i < result.data.length; i++) result.data[i] = target.data[i] * colours.data[i]
    return { target, laid: { colours, alpha: null }, result }
  }
  const alpha = alphaOf!.data
  if (kind === 'straight')
    for (let i = 0; i < colours.data.length; i++) colours.data[i] *= alpha[Math.floor(i / 3)]
  layOver(colours, alpha, target.data, result.data)
  return { target, laid: { colours, alpha }, result }
}

/** Premultiplied colours over a picture (Porter and Duff, Compositing Digital Images, 1984). @param under one value, or a picture */
export function layOver(
  { data }: Frame,
  alpha: Readonly<Float32Array>,
  under: number | Readonly<Float32Array>,
  out: Float32Array,
): void {
  for (let p = 0, i = 0; p < alpha.length; p++)
    for (let c = 0; c < 3; c++, i++)
      out[i] =
        data[i] + (alpha[p] === 1 ? 0 : (1 - alpha[p]) * (typeof under === 'number' ? under : under[i]))
}

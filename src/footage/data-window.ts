// Which pixels a frame's file has. Of an EXR that may be less than its display window, or more (overscan).

import { type Rect, relativeTo } from '../raster/rect.js'
import { BoundedFile } from './bounded-file.js'
import { readHeader } from './exr/header.js'
import { choosePicture } from './exr/layers.js'
import type { Plate } from './plate.js'
import { unreadable } from './source.js'

/**
 * The pixels that a frame's file has, counted as every rectangle is, from the display window's corner; of other formats than
 * EXR the frame itself.
 *
 * @throws FRAME_MISSING, FRAME_UNREADABLE
 */
export async function dataWindowOf(plate: Plate, frame: number): Promise<Rect> {
  const path = plate.pathOf(frame)
  if (plate.format !== 'exr') return { x: 0, y: 0, w: plate.width, h: plate.height }
  try {
    const header = await BoundedFile.use(path, 'EXR_BAD', readHeader)
    const { dataWindow, displayWindow } = choosePicture(header, path, plate.layer).part
    return relativeTo(dataWindow, displayWindow)
  } catch (cause) {
    throw unreadable(path, cause)
  }
}

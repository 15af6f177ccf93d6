// Contact strips for the eye: is a picked region really empty in its window, and are the other frames labelled rightly?
import { join } from 'node:path'
import sharp from 'sharp'
import { grow } from '../../src/raster/rect.js'
import { type Footage, readLinear, toDisplay } from './footage.js'
import type { Label, Window } from './pick-windows.js'

const ROUND = 20
const FRAME = 3
const COLUMNS = 20
/** Border per label; the window's own frames are white. */
const COLOURS: Record<Label, [number, number, number]> = {
  empty: [40, 200, 60],
  unsure: [250, 190, 0],
  disturbed: [230, 30, 30],
}

/** Writes one PNG per window: the region and a little round it in every frame, its border coloured by its label. */
export async function writeStrip(
  footage: Footage,
  window: Window,
  labels: readonly Label[],
  folder: string,
  name: string,
): Promise<void> {
  const rect = grow(window.box, ROUND)
  const w = rect.w + 2 * FRAME
  const h = rect.h + 2 * FRAME
  const rows = Math.ceil(footage.frames.length / COLUMNS)
  const sheet = Buffer.alloc(COLUMNS * w * rows * h * 3)
  for (const [i, frame] of footage.frames.entries()) {
    const colour = window.frames.includes(frame) ? [255, 255, 255] : COLOURS[labels[i]]
    const { data } = await readLinear(footage, frame, rect)
    for (let y = 0; y < h; y++) {
      for (let x = 0; x < w; x++) {
        const to = ((Math.floor(i / COLUMNS) * h + y) * COLUMNS * w + (i % COLUMNS) * w + x) * 3
        const u = x - FRAME
        const v = y - FRAME
        const inside = u >= 0 && v >= 0 && u < rect.w && v < rect.h
        for (let c = 0; c < 3; c++) {
          sheet[to + c] = inside ? 255 * toDisplay(data[(v * rect.w + u) * 3 + c]) : colour[c]
        }
      }
    }
  }
  await sharp(sheet, { raw: { width: COLUMNS * w, height: rows * h, channels: 3 } })
    .png()
    .toFile(join(folder, `${name}.png`))
}

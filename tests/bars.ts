// A swaying plate with planted voids: bars that stay while the picture moves, or a data window.
import { mkdirSync } from 'node:fs'
import { join } from 'node:path'
import sharp from 'sharp'
import { writeExr } from '../src/footage/write/exr.js'
import { frame } from '../src/raster/frame.js'
import type { Rect } from '../src/raster/rect.js'
import { srgbOf } from './codes.js'
import { FIRST, normal, random } from './synthetic.js'

export const WIDTH = 240
export const HEIGHT = 190

export interface VoidOptions {
  readonly frames?: number
  readonly format: 'png' | 'jpg' | 'exr'
  /** What of a frame holds picture, by index. */
  readonly active: (index: number) => Rect
  /** Linear light of the bars; an EXR has none, its data window ends there. */
  readonly bar?: number
  /** Share of the light, of grain. */
  readonly noise?: number
  readonly sway?: (index: number) => readonly [number, number]
  /** Stops on top of the wall's light, by index; bars keep theirs. */
  readonly stops?: (index: number) => number
}

export const handheld = (i: number): readonly [number, number] => [
  2.3 * Math.sin(1.1 * i),
  1.9 * Math.cos(0.7 * i),
]

/** Waves 7 to 40 px long, evaluated at sub-pixel places: no filter has touched them. Products, as sines are dear. */
function wavesOf(start: number) {
  const even = random(start)
  const k = () => (2 * Math.PI) / (7 + 33 * even() ** 1.5)
  return Array.from({ length: 8 }, () => ({ kx: k(), ky: k(), px: 7 * even(), py: 7 * even() }))
}

/** Writes `quay.1001.<format>` and on into a new folder. */
export async function plantVoids(folder: string, options: VoidOptions): Promise<string> {
  const { frames = 12, format, active, bar = 0, noise = 0.02 } = options
  const { sway = handheld, stops = () => 0 } = options
  const waves = wavesOf(3)
  mkdirSync(folder, { recursive: true })
  for (let index = 0; index < frames; index++) {
    const { x: left, y: top, w, h } = active(index)
    const [dx, dy] = sway(index)
    const grain = normal(31 * index + 5)
    const across = waves.map(({ kx, px }) =>
      Float64Array.from({ length: WIDTH }, (_, x) => Math.sin(kx * (x - dx) + px)),
    )
    const down = waves.map(({ ky, py }) =>
      Float64Array.from({ length: HEIGHT }, (_, y) => Math.sin(ky * (y - dy) + py)),
    )
    const gain = 2 ** stops(index)
    const rgb = frame(HEIGHT, WIDTH, 3)
    for (let y = 0, j = 0; y < HEIGHT; y++)
      for (let x = 0; x < WIDTH; x++) {
        const inside = x >= left && y >= top && x < left + w && y < top + h
        let texture = 0
        for (let k = 0; k < waves.length; k++) texture += across[k][x] * down[k][y]
        const light = 0.2 * gain * 2 ** (0.05 * texture)
        for (let c = 0; c < 3; c++, j++) rgb.data[j] = inside ? light * (1 + noise * grain()) : bar
      }
    const path = join(folder, `quay.${FIRST + index}.${format}`)
    if (format === 'exr') {
      const cut = frame(h, w, 3)
      for (let y = 0; y < h; y++) {
        const from = 3 * ((y + top) * WIDTH + left)
        cut.data.set(rgb.data.subarray(from, from + 3 * w), 3 * y * w)
      }
      const displayWindow = { x: 0, y: 0, w: WIDTH, h: HEIGHT }
      await writeExr(path, cut, { displayWindow, origin: { x: left, y: top } })
      continue
    }
    const codes = Uint8Array.from(rgb.data, (v) => Math.round(255 * Math.min(1, srgbOf(Math.max(0, v)))))
    const image = sharp(codes, { raw: { width: WIDTH, height: HEIGHT, channels: 3 } })
    await (format === 'png' ? image.png() : image.jpeg({ quality: 90 })).toFile(path)
  }
  return folder
}

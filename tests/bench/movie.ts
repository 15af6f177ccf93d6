// What a movie costs: a search of it, sheet and all, against the same frames as PNG and decoding the movie once. An AVI,
// which has no way to a frame but through all before it.
import { execFile } from 'node:child_process'
import { access, rename } from 'node:fs/promises'
import { join } from 'node:path'
import { promisify } from 'node:util'
import { SURROUND_PX } from '../../src/defaults.js'
import { grow, type Rect } from '../../src/raster/rect.js'
import { type Figure, told } from './figures.js'
import { type BenchPlate, FIRST } from './plate.js'
import { alternate } from './timing.js'

const TARGETS = 12
const MOST = 1.4

export async function movieFigures(
  plate: BenchPlate,
  box: Rect,
  reach: number,
  rounds: number,
  say: (line: string) => void,
): Promise<Figure[]> {
  say('a movie against its frames')
  const movie = await filmed(plate, say)
  const from = Math.floor((plate.frames - TARGETS) / 2)
  const find = (name: string, first: number) => {
    const frames = `${from + first}-${from + first + TARGETS - 1}`
    return { what: 'sheet', plate: name, box, frames, reach } as const
  }
  const rect = grow(box, SURROUND_PX + reach)
  const {
    decode,
    frames,
    filmed: ofMovie,
  } = await alternate(
    {
      decode: { what: 'decode', plate: movie, frames: plate.frames, rect },
      frames: find(plate.folder, FIRST),
      filmed: find(movie, 1),
    },
    rounds,
    say,
  )
  return [
    {
      what: 'find and sheet of a movie over PNG and one decode',
      value: ofMovie.least / (frames.least + decode.least),
      unit: 'times',
      most: MOST,
      detail: `${told(ofMovie)} over ${told(frames)} and ${told(decode)}, ${plate.frames} frames of ${plate.width} x ${plate.height}, ${TARGETS} targets`,
    },
  ]
}

/** The plate's frames as an AVI of pictures, made once. */
async function filmed({ folder }: BenchPlate, say: (line: string) => void): Promise<string> {
  const path = `${folder}.avi`
  const isThere = await access(path).then(
    () => true,
    () => false,
  )
  if (isThere) return path
  say('making a movie of the plate, once')
  const input = ['-framerate', '24', '-start_number', String(FIRST), '-i', join(folder, 'wall.%d.png')]
  const output = ['-c:v', 'mjpeg', '-q:v', '2', '-f', 'avi', `${path}.part`]
  await promisify(execFile)('ffmpeg', ['-v', 'error', '-y', ...input, ...output])
  await rename(`${path}.part`, path)
  return path
}

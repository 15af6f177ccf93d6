// Reading 256 x 256 pixels of a 4096 x 2160 frame against reading all of it, by ourselves, by three's EXRLoader and by
// OpenImageIO where it is installed. Run: node tests/run.mjs tests/bench/read-rect.ts
import { spawnSync } from 'node:child_process'
import { existsSync } from 'node:fs'
import { mkdtemp, readFile, rm, writeFile } from 'node:fs/promises'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { HalfFloatType } from 'three'
import { EXRLoader } from 'three/examples/jsm/loaders/EXRLoader.js'
import { dpxReader } from '../../src/footage/dpx/reader.js'
import { exrReader } from '../../src/footage/exr/reader.js'
import { encodeExr } from '../../src/footage/write/exr.js'
import { type Frame, frame } from '../../src/raster/frame.js'
import { randomFrom } from '../random.js'

const WIDTH = 4096
const HEIGHT = 2160
const WHOLE = { x: 0, y: 0, w: WIDTH, h: HEIGHT }
const RECT = { x: 1900, y: 900, w: 256, h: 256 }
const ROUNDS = 7
const WARM_UP = 2

interface Timing {
  /** Milliseconds. */
  readonly least: number
  readonly largest: number
}

let sink = 0

async function time(work: () => Promise<number> | number): Promise<Timing> {
  const took: number[] = []
  for (let round = -WARM_UP; round < ROUNDS; round++) {
    const began = performance.now()
    sink += await work()
    if (round >= 0) took.push(performance.now() - began)
  }
  return { least: Math.min(...took), largest: Math.max(...took) }
}

/** A wall in soft light with one percent of grain. */
function plate(): Frame {
  const random = randomFrom('read-rect')
  const grain = Float32Array.from({ length: 65521 }, () => 1 + 0.02 * (random() + random() - 1))
  const image = frame(HEIGHT, WIDTH, 3)
  for (let y = 0, i = 0; y < HEIGHT; y++) {
    for (let x = 0; x < WIDTH; x++) {
      const light = 0.18 + 0.1 * Math.sin(x / 300) + 0.05 * Math.cos(y / 170)
      for (let c = 0; c < 3; c++, i++) image.data[i] = light * (1 - 0.2 * c) * grain[i % grain.length]!
    }
  }
  return image
}

/** 10 bits, filled, method A, big endian: what scanners and recorders write. */
function dpxOf(image: Frame): Buffer {
  const out = Buffer.alloc(2048 + 4 * WIDTH * HEIGHT, 0xff, undefined)
  out.write('SDPX', 0, 'latin1')
  out.writeUInt32BE(2048, 4)
  out.writeUInt16BE(0, 768)
  out.writeUInt16BE(1, 770)
  out.writeUInt32BE(WIDTH, 772)
  out.writeUInt32BE(HEIGHT, 776)
  out.writeUInt32BE(0, 780)
  out.set([50, 1, 1, 10, 0, 1, 0, 0], 800)
  out.writeUInt32BE(2048, 808)
  out.writeUInt32BE(0, 812)
  for (let i = 0, at = 2048; i < image.data.length; i += 3, at += 4) {
    const [r, g, b] = [0, 1, 2].map((c) => Math.round(image.data[i + c]! * 1023))
    out.writeUInt32BE(((r! << 22) | (g! << 12) | (b! << 2)) >>> 0, at)
  }
  return out
}

/** Reads a whole frame with OpenImageIO in its own process and times it there; null where it is not installed. */
function byOpenImageIO(path: string): Timing | null {
  const script = [
    'import sys, time, OpenImageIO as oiio',
    'took = []',
    `for i in range(${WARM_UP + ROUNDS}):`,
    '    t = time.perf_counter(); f = oiio.ImageInput.open(sys.argv[1]); f.read_image("float"); f.close()',
    '    took.append(1000 * (time.perf_counter() - t))',
    `print(min(took[${WARM_UP}:]), max(took[${WARM_UP}:]))`,
  ].join('\n')
  const python = existsSync('/usr/bin/python3') ? '/usr/bin/python3' : 'python3'
  const { status, stdout } = spawnSync(python, ['-c', script, path], { encoding: 'utf8' })
  if (status !== 0) return null
  const [least, largest] = stdout.split(' ').map(Number)
  return { least: least!, largest: largest! }
}

export async function main(): Promise<void> {
  const folder = await mkdtemp(join(tmpdir(), 'offcut-read-rect-'))
  try {
    const image = plate()
    const [exr, dpx] = [join(folder, 'plate.1001.exr'), join(folder, 'plate.1001.dpx')]
    await writeFile(exr, encodeExr(image, { displayWindow: WHOLE }))
    await writeFile(dpx, dpxOf(image))
    const read = (reader: typeof dpxReader, path: string, rect: typeof RECT) => async () =>
      (await reader.read(path, rect)).data[12345]!
    const exrRect = await time(read(exrReader, exr, RECT))
    const exrWhole = await time(read(exrReader, exr, WHOLE))
    const exrThree = await time(async () => {
      const bytes = await readFile(exr)
      const loader = new EXRLoader().setDataType(HalfFloatType)
      return (loader.parse(new Uint8Array(bytes).buffer) as unknown as { data: Uint16Array }).data[12345]!
    })
    const exrOiio = byOpenImageIO(exr)
    const dpxRect = await time(read(dpxReader, dpx, RECT))
    const dpxWhole = await time(read(dpxReader, dpx, WHOLE))
    const dpxOiio = byOpenImageIO(dpx)
    const rows: [string, Timing | null, Timing | null, number | null][] = [
      ['EXR half ZIP, 256 x 256', exrRect, null, null],
      ['  whole frame', exrWhole, exrRect, 0.2],
      ["  whole frame by three's EXRLoader", exrThree, exrRect, 0.2],
      ['  whole frame by OpenImageIO', exrOiio, exrRect, 0.4],
      ['DPX 10 bits, 256 x 256', dpxRect, null, null],
      ['  whole frame', dpxWhole, dpxRect, 0.05],
      ['  whole frame by OpenImageIO', dpxOiio, dpxRect, 0.05],
    ]
    console.log(`${'4096 x 2160'.padEnd(38)}least ms  largest ms  rectangle / this  goal`)
    for (const [name, timing, rect, goal] of rows) {
      if (timing === null) {
        console.log(`${name.padEnd(38)}not installed`)
        continue
      }
      const cells = [timing.least.toFixed(1).padStart(8), timing.largest.toFixed(1).padStart(12)]
      if (rect !== null)
        cells.push((rect.least / timing.least).toFixed(3).padStart(18), `<= ${goal}`.padStart(8))
      console.log(name.padEnd(38) + cells.join(''))
    }
    console.log(`sink ${sink.toFixed(3)}`)
  } finally {
    await rm(folder, { recursive: true })
  }
}

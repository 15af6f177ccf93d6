// The cost of one pair of frames, and whether the answer is the same, against a loop of OpenCV's masked matchTemplate:
// the native one where a Python with OpenCV is at hand (Debian: python3-opencv), else its WebAssembly build.

import { spawnSync } from 'node:child_process'
import { mkdtemp, readFile, rm, writeFile } from 'node:fs/promises'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { openPlate, type Plate, readRect } from '../../src/footage/plate.js'
import { Workspace } from '../../src/kernels/workspace.js'
import { grow, type Rect } from '../../src/raster/rect.js'
import { compose, invert, shiftOf } from '../../src/raster/transform.js'
import { boxMask } from '../../src/region/mask.js'
import { makeRegion, type Region } from '../../src/region/region.js'
import { trackedRects } from '../../src/track/frame-tracker.js'
import type { Pose } from '../../src/track/pose.js'
import { keepAll, readOneHalf } from '../../src/track/read-frames.js'
import { trackFrames } from '../../src/track/track.js'
import { loadOpenCv, maskedCoefficients } from '../opencv.js'
import type { Figure } from './figures.js'
import { type BenchPlate, FIRST } from './plate.js'
import { alternate } from './timing.js'

const REGION = 128
const REACH = 16
/** Beyond the reach, for the filter that lends pixels. */
const TAPS = 4
/**
 * OpenCV's peak counts as unique when every other place lies this much lower. Half-way between two pixels, where the two
 * places are truly equal, grain alone tips them by about a thousandth at this size.
 */
const UNIQUE = 0.005
/** The WebAssembly build is many times slower: so many pairs are timed. */
const PAIRS_IN_WASM = 100

/** Pictures as OpenCV gets them, all in one array, each `w` by `h`. */
interface Dump {
  readonly template: { readonly w: number; readonly h: number }
  readonly image: { readonly w: number; readonly h: number }
  readonly targets: Float32Array
  readonly donors: Float32Array
  readonly mask: Float32Array
}

interface Loop {
  readonly by: string
  readonly secondsPerPair: number
  /** Place of the peak, x then y, per pair, targets outside, donors inside. */
  readonly places: Int32Array
  readonly margins: Float32Array
  readonly pairs: number
}

export async function pairFigures(
  plate: BenchPlate,
  targetCount: number,
  rounds: number,
  say: (line: string) => void,
): Promise<Figure[]> {
  const box: Rect = {
    x: (plate.width - REGION) / 2,
    y: (plate.height - REGION) / 2,
    w: REGION,
    h: REGION,
  }
  const opened = await openPlate(plate.folder)
  const start = plate.frames >> 2
  const targets = opened.frames.slice(start, start + targetCount)
  const mask = boxMask(box, opened)
  const region = makeRegion(new Map(targets.map((f) => [f, mask])), opened)
  const { surround } = region.frames.get(targets[0])!

  say(`pairs: ${targets.length} x ${plate.frames}`)
  const rect = grow(region.window, REACH + TAPS)
  const frames = `${FIRST + start}-${FIRST + start + targetCount - 1}`
  const dump = await dumpOf(opened, targets, region.window, surround)
  const loops: Loop[] = []
  const timed = await alternate(
    {
      find: { what: 'find', plate: plate.folder, box, frames, reach: REACH },
      decode: { what: 'decode', plate: plate.folder, frames: plate.frames, rect },
    },
    rounds,
    say,
    async () => {
      const loop = (await nativeLoop(dump)) ?? (await wasmLoop(dump))
      say(`  ${loop.by}: ${(1e6 * loop.secondsPerPair).toFixed(0)} us a pair`)
      loops.push(loop)
    },
  )
  const loop = loops.reduce((a, b) => (a.secondsPerPair <= b.secondsPerPair ? a : b))

  const pose = await posesOf(opened, region, targets[targets.length >> 1])

  const pairs = targets.length * opened.frames.length
  const ours = timed.find.least / pairs
  let unique = 0
  let equal = 0
  for (let p = 0; p < loop.pairs; p++) {
    if (loop.margins[p] < UNIQUE) continue
    const target = pose.get(targets[Math.floor(p / opened.frames.length)])!
    const donor = pose.get(opened.frames[p % opened.frames.length])!
    unique++
    const offset = shiftOf(compose(invert(target.transform), donor.transform), region.window)
    const [dx, dy] = [Math.round(offset.dx), Math.round(offset.dy)]
    if (dx === REACH - loop.places[2 * p] && dy === REACH - loop.places[2 * p + 1]) equal++
  }
  const micro = (seconds: number) => `${(1e6 * seconds).toFixed(0)} us`
  const matching = (timed.find.least - timed.decode.least) / pairs
  return [
    {
      what: 'a pair in OpenCV over a pair in find, decoding left out',
      value: loop.secondsPerPair / matching,
      unit: 'times',
      least: 12,
      detail: `${micro(loop.secondsPerPair)} (${loop.by}, ${loop.pairs} pairs, its pictures in memory) over ${micro(matching)} (${pairs} pairs), region ${REGION}, reach ${REACH}`,
    },
    {
      what: 'the same with decoding, which that loop does not do',
      value: loop.secondsPerPair / ours,
      unit: 'times',
      detail: `over ${micro(ours)}`,
    },
    {
      what: 'same whole-pixel offset where the peak is unique',
      value: unique > 0 ? (100 * equal) / unique : null,
      unit: '%',
      least: 99,
      detail: `${equal} of ${unique} pairs whose peak stands out by ${UNIQUE}, of ${loop.pairs}`,
    },
  ]
}

/** Poses as `find` finds them. */
async function posesOf(plate: Plate, { window, frames }: Region, target: number): Promise<Map<number, Pose>> {
  const rects = trackedRects(window, REACH, { x: 0, y: 0, w: plate.width, h: plate.height })
  const reference = await readOneHalf(plate, target, rects.rect)
  const keys = plate.frames.map((frame) => ({ plate: 0, frame }))
  const mask = frames.get(target)!
  const setup = { reference, rects, keep: window, window, mask, reachPx: REACH, clip: [plate.clipLevel] }
  const { frames: seen } = await keepAll(trackFrames(new Workspace(), [plate], keys, setup))
  return new Map(seen.map((f) => [f.frame, f.pose]))
}

/** log2 luminance less 1/1024 of white, moved near zero so that single precision is enough for OpenCV. */
async function dumpOf(
  plate: Plate,
  targets: readonly number[],
  window: Rect,
  surround: Float32Array,
): Promise<Dump> {
  const read = async (frames: readonly number[], rect: Rect): Promise<Float32Array> => {
    const size = rect.w * rect.h
    const out = new Float32Array(frames.length * size)
    for (const [f, frame] of frames.entries()) {
      const { data } = await readRect(plate, frame, rect)
      for (let i = 0; i < size; i++) {
        const y = 0.2126 * data[3 * i] + 0.7152 * data[3 * i + 1] + 0.0722 * data[3 * i + 2]
        out[f * size + i] = Math.log2(y + 1 / 1024) + 3
      }
    }
    return out
  }
  const image = grow(window, REACH)
  return {
    template: window,
    image,
    targets: await read(targets, window),
    donors: await read(plate.frames, image),
    mask: surround,
  }
}

async function nativeLoop(dump: Dump): Promise<Loop | null> {
  const python = ['python3', '/usr/bin/python3'].find(
    (p) => spawnSync(p, ['-c', 'import cv2, numpy']).status === 0,
  )
  if (python === undefined) return null
  const folder = await mkdtemp(join(tmpdir(), 'offcut-bench-pairs-'))
  try {
    const { template, image, targets, donors, mask } = dump
    const counts = {
      template: [template.w, template.h],
      image: [image.w, image.h],
      targets: targets.length / (template.w * template.h),
      donors: donors.length / (image.w * image.h),
    }
    await writeFile(join(folder, 'meta.json'), JSON.stringify(counts))
    for (const [name, data] of Object.entries({ targets, donors, mask })) {
      await writeFile(
        join(folder, `${name}.bin`),
        new Uint8Array(data.buffer, data.byteOffset, data.byteLength),
      )
    }
    // The launcher runs in the project's top folder and names this folder's script to us by its own place.
    const script = join(process.argv[1], '..', 'opencv-pairs.py')
    const { status, stdout, stderr } = spawnSync(python, [script, folder], { encoding: 'utf8' })
    if (status !== 0) throw new Error(`opencv-pairs.py: ${stderr}`)
    const { seconds, version, threads } = JSON.parse(stdout)
    const pairs = counts.targets * counts.donors
    const places = await readFile(join(folder, 'offsets.bin'))
    const margins = await readFile(join(folder, 'margins.bin'))
    return {
      by: `native OpenCV ${version}, ${threads} threads`,
      secondsPerPair: seconds / pairs,
      places: new Int32Array(places.buffer, places.byteOffset, 2 * pairs),
      margins: new Float32Array(margins.buffer, margins.byteOffset, pairs),
      pairs,
    }
  } finally {
    await rm(folder, { recursive: true, force: true })
  }
}

async function wasmLoop({ template, image, targets, donors, mask }: Dump): Promise<Loop> {
  const cv = await loadOpenCv()
  const small = template.w * template.h
  const large = image.w * image.h
  const pairs = Math.min(PAIRS_IN_WASM, donors.length / large)
  const places = new Int32Array(2 * pairs)
  const margins = new Float32Array(pairs)
  const target = { width: template.w, height: template.h, data: targets.subarray(0, small) }
  const started = performance.now()
  for (let d = 0; d < pairs; d++) {
    const donor = { width: image.w, height: image.h, data: donors.subarray(d * large, (d + 1) * large) }
    const surface = maskedCoefficients(cv, donor, target, mask)
    const order = [...surface.data.keys()].filter((i) => Number.isFinite(surface.data[i]))
    order.sort((a, b) => surface.data[b] - surface.data[a])
    places[2 * d] = order[0] % surface.width
    places[2 * d + 1] = Math.floor(order[0] / surface.width)
    margins[d] = surface.data[order[0]] - surface.data[order[1]]
  }
  const seconds = (performance.now() - started) / 1000
  return { by: 'OpenCV in WebAssembly', secondsPerPair: seconds / pairs, places, margins, pairs }
}

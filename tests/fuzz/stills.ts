// Broken stills, SVG masks and result files: whatever they hold, nothing but a documented error comes out.
import { mkdirSync, mkdtempSync, readdirSync, readFileSync, rmSync, writeFileSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { extname, join } from 'node:path'
import { readResult } from '../../src/cli/result-folder.js'
import { OffcutError } from '../../src/errors.js'
import { openPlate, readRect } from '../../src/footage/plate.js'
import { loadMasks } from '../../src/region/mask.js'
import { randomFrom } from '../random.js'
import { type FuzzReport, MUTATORS } from './exr-dpx.js'

const SVG = `<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 64 48"><defs><filter id="f"><feGaussianBlur
stdDeviation="2"/></filter></defs><path d="M10 10 L50 12 L40 40 Z" fill="#fff" filter="url(#f)"/><image href="x.png"
width="9" height="9"/><text x="4" y="40">porter</text></svg>`

const RESULT = JSON.stringify({
  schema: 'offcut.result/1',
  aim: 'hide',
  target: {
    plate: 'quay.####.png',
    first: 1001,
    last: 1001,
    frames: [1001],
    width: 64,
    height: 48,
    encoding: 'srgb',
    encodingWhy: 'x',
  },
  region: { mask: null, maskFit: 'same', box: [1, 2, 3, 4], surround: 24 },
  reach: 16,
  donors: [],
  warnings: [],
  candidates: [],
})

interface Seed {
  readonly name: string
  readonly bytes: Buffer
}

const SEEDS: readonly Seed[] = [
  ...readdirSync('fixtures/stills')
    .filter((name) => /\.(png|tiff?|jpe?g)$/.test(name))
    .sort()
    .map((name) => ({ name, bytes: readFileSync(join('fixtures/stills', name)) })),
  ...Array.from({ length: 4 }, () => ({ name: 'mask.svg', bytes: Buffer.from(SVG) })),
  ...Array.from({ length: 4 }, () => ({ name: 'result.json', bytes: Buffer.from(RESULT) })),
]

/** A still of a few pixels takes milliseconds; something that runs away takes minutes. */
const SLOW_MS = 5000

/** @throws Error naming the seed file, the mutator and the iteration where anything but a documented error comes out */
export async function fuzzStills(iterations: number, seed: number): Promise<FuzzReport> {
  const draw = randomFrom(`stills ${seed}`)
  const random = (below: number) => Math.floor(draw() * below)
  const folder = mkdtempSync(join(tmpdir(), 'offcut-fuzz-'))
  const refused: Record<string, number> = {}
  const mutators = Object.entries(MUTATORS)
  const before = process.memoryUsage().rss
  let read = 0
  let slowestMs = 0
  try {
    for (let i = 0; i < iterations; i++) {
      const { name, bytes } = SEEDS[random(SEEDS.length)]
      const [title, mutate] = mutators[random(mutators.length)]
      // A folder each, so that a changed file is never taken for the one before.
      const own = join(folder, String(i))
      mkdirSync(own)
      writeFileSync(join(own, name), mutate(Buffer.from(bytes), random))
      const began = performance.now()
      const code = await outcome(own, name).catch((cause) => {
        throw new Error(`seed ${seed}, iteration ${i}: ${name} with ${title}: ${cause}`, { cause })
      })
      const took = performance.now() - began
      slowestMs = Math.max(slowestMs, took)
      if (took > SLOW_MS)
        throw new Error(`seed ${seed}, iteration ${i}: ${name} with ${title} took ${took.toFixed()} ms`)
      const left = readdirSync(own)
      if (left.length !== 1)
        throw new Error(`seed ${seed}, iteration ${i}: ${name} with ${title} wrote ${left}`)
      rmSync(own, { recursive: true })
      if (code === null) read++
      else refused[code] = (refused[code] ?? 0) + 1
    }
  } finally {
    rmSync(folder, { recursive: true })
  }
  return { refused, read, slowestMs, grownBytes: process.memoryUsage().rss - before }
}

/** Null where something usable came out, else the error's code. */
async function outcome(folder: string, name: string): Promise<string | null> {
  const path = join(folder, name)
  try {
    if (extname(name) === '.json') await readResult(folder)
    else if (extname(name) === '.svg') await loadMasks(path, { width: 64, height: 48 }, [1])
    else {
      const plate = await openPlate(path)
      const w = Math.min(8, plate.width)
      const h = Math.min(8, plate.height)
      const picture = await readRect(plate, plate.first, { x: 0, y: 0, w, h })
      if (picture.data.length !== w * h * 3) throw new Error(`gave ${picture.data.length} samples`)
    }
    return null
  } catch (error) {
    if (error instanceof OffcutError) return error.code
    throw error
  }
}

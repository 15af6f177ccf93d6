// Broken stills, SVG masks and result files: whatever they hold, nothing but a documented error comes out.
import { readdirSync, readFileSync } from 'node:fs'
import { dirname, extname, join } from 'node:path'
import { OffcutError } from '../../src/errors.js'
import { openPlate, readRect } from '../../src/footage/plate.js'
import { loadMasks } from '../../src/region/mask.js'
import { readResult } from '../../src/search/result-file.js'
import { type FuzzReport, fuzz, type Seed } from './harness.js'

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

const SEEDS: readonly Seed[] = [
  ...readdirSync('fixtures/stills')
    .filter((name) => /\.(png|tiff?|jpe?g)$/.test(name))
    .sort()
    .map((name) => ({ name, bytes: readFileSync(join('fixtures/stills', name)) })),
  ...Array.from({ length: 4 }, () => ({ name: 'mask.svg', bytes: Buffer.from(SVG) })),
  ...Array.from({ length: 4 }, () => ({ name: 'result.json', bytes: Buffer.from(RESULT) })),
]

/** @throws as fuzz */
export function fuzzStills(iterations: number, seed: number): Promise<FuzzReport> {
  return fuzz('stills', SEEDS, outcome, iterations, seed)
}

/** Null where something usable came out, else the error's code. */
async function outcome(path: string): Promise<string | null> {
  try {
    if (extname(path) === '.json') await readResult(dirname(path))
    else if (extname(path) === '.svg') await loadMasks(path, { width: 64, height: 48 }, [1])
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

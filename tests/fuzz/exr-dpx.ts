// Broken EXR and DPX frames: a picture of the right size or a documented error.
import { readdirSync, readFileSync } from 'node:fs'
import { join } from 'node:path'
import { OffcutError } from '../../src/errors.js'
import { BadFile } from '../../src/footage/bounded-file.js'
import { dpxReader } from '../../src/footage/dpx/reader.js'
import { exrReader } from '../../src/footage/exr/reader.js'
import { type FuzzReport, fuzz, type Random } from './harness.js'

const SEEDS = ['fixtures/exr', 'fixtures/dpx'].flatMap((folder) =>
  readdirSync(folder)
    .filter((name) => /\.(exr|dpx)$/.test(name))
    .sort()
    .map((name) => ({ name, bytes: readFileSync(join(folder, name)) })),
)

const CODES = new Set(['EXR_BAD', 'DPX_BAD', 'LAYER_UNKNOWN', 'LAYER_AMBIGUOUS'])

/** @throws as fuzz */
export function fuzzExrDpx(iterations: number, seed: number): Promise<FuzzReport> {
  return fuzz('exr and dpx', SEEDS, outcome, iterations, seed)
}

// a mutated header may well announce a large frame; reading all of it is the caller's wish, not the file's
const SIDE = 64

/** Null where a picture came out, else the error's code. */
async function outcome(path: string, random: Random): Promise<string | null> {
  const reader = path.endsWith('.exr') ? exrReader : dpxReader
  try {
    const { width, height } = await reader.probe(path)
    const rect = { x: random(width), y: random(height), w: 0, h: 0 }
    rect.w = 1 + random(Math.min(SIDE, width - rect.x))
    rect.h = 1 + random(Math.min(SIDE, height - rect.y))
    const picture = await reader.read(path, rect)
    const shape = picture.shape.join(' x ')
    if (shape !== `${rect.h} x ${rect.w} x 3`) throw new Error(`gave a picture of ${shape}`)
    return null
  } catch (error) {
    const documented = error instanceof BadFile || error instanceof OffcutError
    if (documented && CODES.has(error.code)) return error.code
    throw error
  }
}

// Broken EXR and DPX frames by the thousand: every fixture is a seed, a mutator breaks it, and the reader must give either
// a picture of the right size or one of its documented errors, soon and within bounded memory.
import { mkdtempSync, readdirSync, readFileSync, rmSync, writeFileSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { OffcutError } from '../../src/errors.js'
import { BadFile } from '../../src/footage/bounded-file.js'
import { dpxReader } from '../../src/footage/dpx-reader.js'
import { exrReader } from '../../src/footage/exr-reader.js'
import { randomFrom } from '../random.js'

export interface FuzzReport {
  /** Inputs that were refused, by error code. */
  readonly refused: Readonly<Record<string, number>>
  /** Inputs that gave a picture of the size their header says. */
  readonly read: number
  readonly slowestMs: number
  /** How far the process grew, bytes. */
  readonly grownBytes: number
}

type Random = (below: number) => number
type Mutator = (bytes: Buffer, random: Random) => Buffer

// values that sizes, offsets and counts go wrong at
const EDGES = [
  0,
  1,
  -1,
  127,
  128,
  255,
  256,
  0x7fff,
  0xffff,
  0x7fffffff,
  -0x80000000,
  1 << 20,
  1 << 28,
  1 << 30,
]
// a header is a small part of a file, and the part that decides what is allocated
const HEADER_BYTES = 700

export const MUTATORS: Readonly<Record<string, Mutator>> = {
  'a few bytes': (bytes, random) => {
    for (let i = random(8); i >= 0; i--) bytes[random(bytes.length)] = random(256)
    return bytes
  },
  'a few header bytes': (bytes, random) => {
    for (let i = random(4); i >= 0; i--) bytes[random(Math.min(HEADER_BYTES, bytes.length))] = random(256)
    return bytes
  },
  'one bit': (bytes, random) => {
    bytes[random(bytes.length)]! ^= 1 << random(8)
    return bytes
  },
  'an edge value in the header': (bytes, random) => {
    bytes.writeInt32LE(EDGES[random(EDGES.length)]!, random(Math.min(HEADER_BYTES, bytes.length - 4)))
    return bytes
  },
  'an edge value anywhere, big endian': (bytes, random) => {
    bytes.writeInt32BE(EDGES[random(EDGES.length)]!, random(bytes.length - 4))
    return bytes
  },
  'cut off': (bytes, random) => bytes.subarray(0, random(bytes.length)),
  'a run of one byte': (bytes, random) => {
    const from = random(bytes.length)
    return bytes.fill(random(256), from, Math.min(bytes.length, from + random(300)))
  },
  'a piece moved': (bytes, random) => {
    const length = random(Math.min(400, bytes.length))
    bytes.copyWithin(random(bytes.length), random(bytes.length), length)
    return bytes
  },
  'a piece missing': (bytes, random) => {
    const from = random(bytes.length)
    return Buffer.concat([bytes.subarray(0, from), bytes.subarray(from + 1 + random(40))])
  },
  'another file behind its header': (bytes, random) => {
    const at = random(Math.min(HEADER_BYTES, bytes.length))
    const other = SEEDS[random(SEEDS.length)]!.bytes
    return Buffer.concat([bytes.subarray(0, at), other.subarray(Math.min(at, other.length))])
  },
}

const SEEDS = ['fixtures/exr', 'fixtures/dpx'].flatMap((folder) =>
  readdirSync(folder)
    .filter((name) => /\.(exr|dpx)$/.test(name))
    .sort()
    .map((name) => ({ name, bytes: readFileSync(join(folder, name)) })),
)

// a fixture takes about a millisecond; a decoder that runs away takes minutes
const SLOW_MS = 5000
const CODES = new Set(['EXR_BAD', 'DPX_BAD', 'LAYER_UNKNOWN'])

/**
 * Feeds `iterations` broken frames to the readers; the same seed gives the same frames.
 *
 * @throws Error naming the seed file, the mutator and the iteration where anything but a documented error comes out
 */
export async function fuzzExrDpx(iterations: number, seed: number): Promise<FuzzReport> {
  const draw = randomFrom(`exr and dpx ${seed}`)
  const random: Random = (below) => Math.floor(draw() * below)
  const folder = mkdtempSync(join(tmpdir(), 'offcut-fuzz-'))
  const refused: Record<string, number> = {}
  const mutators = Object.entries(MUTATORS)
  const before = process.memoryUsage().rss
  let read = 0
  let slowestMs = 0
  try {
    for (let i = 0; i < iterations; i++) {
      const { name, bytes } = SEEDS[random(SEEDS.length)]!
      const [title, mutate] = mutators[random(mutators.length)]!
      const path = join(folder, name.slice(-4))
      writeFileSync(path, mutate(Buffer.from(bytes), random))
      const began = performance.now()
      const code = await outcome(path, name.endsWith('.exr'), random).catch((cause) => {
        throw new Error(`seed ${seed}, iteration ${i}: ${name} with ${title}: ${cause}`, { cause })
      })
      const took = performance.now() - began
      slowestMs = Math.max(slowestMs, took)
      if (took > SLOW_MS)
        throw new Error(`seed ${seed}, iteration ${i}: ${name} with ${title} took ${took.toFixed()} ms`)
      if (code === null) read++
      else refused[code] = (refused[code] ?? 0) + 1
    }
  } finally {
    rmSync(folder, { recursive: true })
  }
  return { refused, read, slowestMs, grownBytes: process.memoryUsage().rss - before }
}

// a mutated header may well announce a large frame; reading all of it is the caller's wish, not the file's
const SIDE = 64

/** Null where a picture came out, else the error's code. */
async function outcome(path: string, exr: boolean, random: Random): Promise<string | null> {
  const reader = exr ? exrReader : dpxReader
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

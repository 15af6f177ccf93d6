// Files broken by the thousand: every seed is a sound file, a mutator breaks it, and what reads it must give a picture or
// one of its documented errors, soon, within bounded memory, and write nothing.
import { mkdirSync, mkdtempSync, readdirSync, rmSync, writeFileSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
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

export interface Seed {
  readonly name: string
  readonly bytes: Buffer
}

export type Random = (below: number) => number
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

/** @param seeds files that another one's end may be taken from */
function mutatorsOf(seeds: readonly Seed[]): Readonly<Record<string, Mutator>> {
  return {
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
      const other = seeds[random(seeds.length)]!.bytes
      return Buffer.concat([bytes.subarray(0, at), other.subarray(Math.min(at, other.length))])
    },
  }
}

/** A seed takes about a millisecond; a decoder that runs away takes minutes. */
const SLOW_MS = 5000

/**
 * Feeds `iterations` broken files to `outcome`; the same seed gives the same files.
 *
 * @param outcome null where something usable came out, else the documented error's code; anything else it throws
 * @throws Error naming the seed file, the mutator and the iteration where anything but a documented error comes out
 */
export async function fuzz(
  what: string,
  seeds: readonly Seed[],
  outcome: (path: string, random: Random) => Promise<string | null>,
  iterations: number,
  seed: number,
): Promise<FuzzReport> {
  const draw = randomFrom(`${what} ${seed}`)
  const random: Random = (below) => Math.floor(draw() * below)
  const folder = mkdtempSync(join(tmpdir(), 'offcut-fuzz-'))
  const refused: Record<string, number> = {}
  const mutators = Object.entries(mutatorsOf(seeds))
  const before = process.memoryUsage().rss
  let read = 0
  let slowestMs = 0
  try {
    for (let i = 0; i < iterations; i++) {
      const { name, bytes } = seeds[random(seeds.length)]!
      const [title, mutate] = mutators[random(mutators.length)]!
      // A folder each, so that a changed file is never taken for the one before.
      const own = join(folder, String(i))
      mkdirSync(own)
      writeFileSync(join(own, name), mutate(Buffer.from(bytes), random))
      const here = `seed ${seed}, iteration ${i}: ${name} with ${title}`
      const began = performance.now()
      const code = await outcome(join(own, name), random).catch((cause) => {
        throw new Error(`${here}: ${cause}`, { cause })
      })
      const took = performance.now() - began
      slowestMs = Math.max(slowestMs, took)
      if (took > SLOW_MS) throw new Error(`${here} took ${took.toFixed()} ms`)
      const left = readdirSync(own)
      if (left.length !== 1) throw new Error(`${here} wrote ${left}`)
      rmSync(own, { recursive: true })
      if (code === null) read++
      else refused[code] = (refused[code] ?? 0) + 1
    }
  } finally {
    rmSync(folder, { recursive: true })
  }
  return { refused, read, slowestMs, grownBytes: process.memoryUsage().rss - before }
}

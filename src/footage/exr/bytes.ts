// The byte codes under OpenEXR's methods: zlib and run lengths, both with a known outcome.
// Source: openexr.com, "Technical Introduction"; byte order as in OpenEXR 3.1 (ImfRle, ImfZip).
import { promisify } from 'node:util'
import { inflate, inflateSync } from 'node:zlib'
import { bad } from './header.js'

const inflateInThread = promisify(inflate)

// Node hands out what is inflated in pieces of 16 kB, each a trip to its threads and back: one piece for all of a chunk
// takes half of the time. More than any sensible chunk is not made room for at once, as a header may say anything.
const MAX_PIECE = 1 << 22

/** How zlib is to hand out `size` bytes: in one piece, with room to see that no more follow. */
export function inOnePiece(size: number): { chunkSize: number } {
  return { chunkSize: Math.min(size, MAX_PIECE) + 64 }
}

// what deflate can do at best: 258 bytes for a little over two bits
const DEFLATE_BEST = 1032

// Up to so many bytes a trip to zlib's threads and back weighs too much: 476 rows of 24 kB took 98 ms of processor through
// them and 60 at once. Of chunks of 390 kB both take the same, and threads take it off the caller's hands.
const AT_ONCE = 1 << 16

/** Inflates zlib data to exactly `size` bytes: little of it at once, more on zlib's threads. @throws BadFile otherwise */
export function inflateTo(data: Uint8Array, size: number): Buffer | Promise<Buffer> {
  // before zlib is asked to make room for it
  if (size > (data.length + 1) * DEFLATE_BEST) throw bad(`has ${data.length} bytes that can't become ${size}`)
  const options = { maxOutputLength: Math.max(1, size), ...inOnePiece(size) }
  if (size > AT_ONCE) return inflateInThread(data, options).then((out) => sized(out, size), deflated)
  let out: Buffer
  try {
    out = inflateSync(data, options)
  } catch (cause) {
    return deflated(cause)
  }
  return sized(out, size)
}

function deflated(cause: unknown): never {
  throw bad('has a chunk that does not inflate', cause)
}

function sized(out: Buffer, size: number): Buffer {
  if (out.length !== size) throw bad(`has a chunk of ${out.length} bytes, its samples take ${size}`)
  return out
}

/** OpenEXR's run lengths: a count below zero means so many bytes as they are, else one byte count + 1 times. */
export function expandRuns(data: Uint8Array, size: number): Uint8Array {
  // two bytes make 128 at best
  if (size > data.length * 64) throw bad(`has ${data.length} bytes of runs that can't become ${size}`)
  const out = new Uint8Array(size)
  let to = 0
  for (let from = 0; from < data.length; ) {
    const count = (data[from++]! << 24) >> 24
    const length = count < 0 ? -count : count + 1
    const taken = count < 0 ? length : 1
    if (from + taken > data.length || to + length > size) throw bad('has runs that overflow their chunk')
    if (count < 0) out.set(data.subarray(from, from + length), to)
    else out.fill(data[from]!, to, to + length)
    from += taken
    to += length
  }
  if (to !== size) throw bad(`has runs of ${to} bytes, its samples take ${size}`)
  return out
}

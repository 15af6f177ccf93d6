// The byte codes under OpenEXR's methods: zlib and run lengths, both with a known outcome.
// Source: openexr.com, "Technical Introduction"; byte order as in OpenEXR 3.1 (ImfRle, ImfZip).
import { codecs } from '../../kernels/codecs.js'
import { inflate } from '../../kernels/inflate.js'
import type { Scratch } from '../../kernels/workspace.js'
import { bad } from './header.js'

// what deflate can do at best: 258 bytes for a little over two bits
const DEFLATE_BEST = 1032

/** Inflates zlib data to exactly `size` bytes of the scratch, which is of `codecs()`. @throws BadFile otherwise */
export function inflateTo(scratch: Scratch, data: Uint8Array, size: number): Uint8Array {
  // before there is made room for it
  if (size > (data.length + 1) * DEFLATE_BEST) throw bad(`has ${data.length} bytes that can't become ${size}`)
  const out = scratch.bytes(size)
  const made = inflate(codecs(), data, out)
  if (made === null) throw bad('has a chunk that does not inflate')
  if (made !== size) throw bad(`has a chunk of ${made} bytes, its samples take ${size}`)
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

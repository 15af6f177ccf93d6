// Chunks of an EXR part into samples: stored, RLE, ZIP and PXR24 here, the others in their own files. All of them are
// ours because a decoder must refuse a broken chunk quickly, and read any mixture of channel types.
// Source: openexr.com, "OpenEXR File Layout" and "Technical Introduction".

import { undoPredictor } from '../../kernels/bytes.js'
import { codecs } from '../../kernels/codecs.js'
import type { Scratch } from '../../kernels/workspace.js'
import { letGo } from '../../raster/let-go.js'
import { decodeB44 } from './b44.js'
import type { BlockShape, Wanted } from './blocks.js'
import { expandRuns, inflateTo } from './bytes.js'
import { decodeDwa } from './dwa.js'
import { bad, type Compression } from './header.js'
import { decodePiz } from './piz.js'

/** The samples of a block, little endian, with the offset of every row of every channel. */
export interface Samples {
  readonly bytes: Uint8Array
  /** [channel][row of that channel], bytes. */
  readonly rows: readonly Uint32Array[]
}

/**
 * Decodes one chunk and hands its samples to `use`, which must not keep them.
 *
 * @param data the chunk's bytes; stored as they are where they are as many as the samples take
 * @param wanted the others may hold anything
 * @throws BadFile where they don't make exactly the samples of this shape
 */
export function decodeBlock(
  compression: Compression,
  data: Uint8Array,
  shape: BlockShape,
  wanted: Wanted,
  use: (samples: Samples) => void,
): Promise<void> | undefined {
  const { size, rowByRow, channelByChannel } = shape
  const byRows = (bytes: Uint8Array): undefined => void use({ bytes, rows: rowByRow })
  const made = (rows: readonly Uint32Array[], make: (scratch: Scratch) => Uint8Array): undefined =>
    codecs().within((scratch) => void use({ bytes: make(scratch), rows }))
  const predicted = (bytes: Uint8Array): undefined =>
    made(rowByRow, (scratch) => {
      const out = scratch.bytes(size)
      undoPredictor(codecs(), bytes, out)
      return out
    })
  if (data.length === size) return byRows(data)
  switch (compression) {
    case 'none':
      throw bad(`has ${data.length} bytes in a stored chunk, its samples take ${size}`)
    case 'rle':
      return predicted(expandRuns(data, size))
    case 'zips':
    case 'zip':
      return whenInflated(inflateTo(data, size), predicted)
    case 'pxr24':
      return whenInflated(inflateTo(data, pxr24Size(shape)), (packed) => byRows(undoPxr24(packed, shape)))
    case 'piz':
      return made(channelByChannel, (scratch) => decodePiz(scratch, data, shape, wanted))
    case 'b44':
    case 'b44a':
      return made(channelByChannel, (scratch) => decodeB44(scratch.bytes(size), data, shape, wanted))
    case 'dwaa':
    case 'dwab':
      return decodeDwa(data, shape, wanted).then((make) => made(channelByChannel, make))
  }
}

/** @param use must not keep the bytes */
function whenInflated(
  bytes: Uint8Array | Promise<Uint8Array>,
  use: (bytes: Uint8Array) => undefined,
): Promise<void> | undefined {
  const useUp = (inflated: Uint8Array): undefined => {
    use(inflated)
    letGo(inflated)
  }
  return bytes instanceof Promise ? bytes.then(useUp) : useUp(bytes)
}

/** PXR24 drops the last 8 bits of a float; the rest of a sample is stored in planes of bytes. */
function pxr24Planes(type: string): number {
  return type === 'half' ? 2 : type === 'float' ? 3 : 4
}

function pxr24Size({ channels }: BlockShape): number {
  return channels.reduce((sum, c) => sum + c.columns * c.rows * pxr24Planes(c.type), 0)
}

/** Per row and channel: planes of bytes, the highest first, of the differences between neighbours. */
function undoPxr24(packed: Uint8Array, shape: BlockShape): Uint8Array {
  const out = new Uint8Array(shape.size)
  let from = 0
  let to = 0
  for (const c of shape.inOrder) {
    const { columns, type, bytes } = shape.channels[c]!
    const planes = pxr24Planes(type)
    const unused = bytes - planes
    let value = 0
    for (let x = 0; x < columns; x++, to += bytes) {
      let difference = 0
      for (let p = 0, i = from + x; p < planes; p++, i += columns) difference = (difference << 8) | packed[i]!
      value = (value + (difference << (8 * unused))) | 0
      for (let b = 0; b < bytes; b++) out[to + b] = value >>> (8 * b)
    }
    from += columns * planes
  }
  return out
}

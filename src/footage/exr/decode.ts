// Chunks of an EXR part into samples: stored, RLE, ZIP and PXR24 here, the others in their own files. All of them are
// ours because a decoder must refuse a broken chunk quickly, and read any mixture of channel types.
// Source: openexr.com, "OpenEXR File Layout" and "Technical Introduction".

import { undoPredictor } from '../../kernels/bytes.js'
import { decodeB44 } from './b44.js'
import type { BlockShape } from './blocks.js'
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
 * Decodes one chunk.
 *
 * @param data the chunk's bytes; stored as they are where they are as many as the samples take
 * @throws BadFile where they don't make exactly the samples of this shape
 */
export async function decodeBlock(
  compression: Compression,
  data: Uint8Array,
  shape: BlockShape,
): Promise<Samples> {
  if (data.length === shape.size) return byRows(data, shape)
  switch (compression) {
    case 'none':
      throw bad(`has ${data.length} bytes in a stored chunk, its samples take ${shape.size}`)
    case 'rle':
      return byRows(undoPredictor(expandRuns(data, shape.size)), shape)
    case 'zips':
    case 'zip':
      return byRows(undoPredictor(await inflateTo(data, shape.size)), shape)
    case 'pxr24':
      return byRows(undoPxr24(await inflateTo(data, pxr24Size(shape)), shape), shape)
    case 'piz':
      return byChannels(decodePiz(data, shape), shape)
    case 'b44':
    case 'b44a':
      return byChannels(decodeB44(data, shape), shape)
    case 'dwaa':
    case 'dwab':
      return byChannels(await decodeDwa(data, shape), shape)
  }
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
  for (const { columns, type, bytes } of rowsInOrder(shape)) {
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

/** The channels of each row in turn, as most methods store them; a subsampled channel is not in every row. */
function* rowsInOrder({
  block,
  channels,
}: BlockShape): Generator<BlockShape['channels'][number] & { index: number }> {
  for (let y = block.y; y < block.y + block.h; y++) {
    for (const [index, channel] of channels.entries())
      if (y % channel.ySampling === 0) yield { ...channel, index }
  }
}

function byRows(bytes: Uint8Array, shape: BlockShape): Samples {
  const rows = shape.channels.map((c) => new Uint32Array(c.rows))
  const filled = new Uint32Array(rows.length)
  let at = 0
  for (let y = shape.block.y; y < shape.block.y + shape.block.h; y++) {
    for (let c = 0; c < rows.length; c++) {
      const channel = shape.channels[c]!
      if (y % channel.ySampling !== 0) continue
      rows[c]![filled[c]!++] = at
      at += channel.columns * channel.bytes
    }
  }
  return { bytes, rows }
}

function byChannels(bytes: Uint8Array, shape: BlockShape): Samples {
  let at = 0
  const rows = shape.channels.map((channel) =>
    Uint32Array.from({ length: channel.rows }, () => {
      const here = at
      at += channel.columns * channel.bytes
      return here
    }),
  )
  return { bytes, rows }
}

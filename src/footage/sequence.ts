// A plate of one picture file per frame.
import { basename, join } from 'node:path'
import { OffcutError, plateError } from '../errors.js'
import type { Located } from './locate.js'
import { numberIn, stemOf } from './naming.js'
import { extensionOf, type FrameInfo, type FrameReader, readerFor } from './reader.js'
import { missing, type Opened, unreadable } from './source.js'

// A plate whose first frames are broken still opens; one with this many broken at its start does not.
const PROBED_AT_MOST = 10

/** Opens located frames; reads the header of the first readable one. @throws FRAME_UNREADABLE */
export async function openSequence(
  { folder, sequence, spec }: Extract<Located, { kind: 'frames' }>,
  layer: string | undefined,
): Promise<Opened> {
  const frames = [...sequence.files.keys()]
  const pathOf = (frame: number): string => {
    const name = sequence.files.get(frame)
    if (name === undefined) throw missing({ spec, frames }, frame)
    return join(folder, name)
  }
  const reader = (await readerFor(sequence.name))!
  const { frame: probed, info } = await probeFirst(reader, frames, pathOf, layer)
  const levels = levelsOf(info.bitDepth)
  // frames whose header has been seen to have the plate's size
  const sized = new Set([probed])

  const header = (frame: number): Promise<FrameInfo> => {
    const path = pathOf(frame)
    return reader.probe(path, { layer }).catch((cause) => Promise.reject(unreadable(path, cause)))
  }
  const check = async (frame: number): Promise<void> => {
    if (sized.has(frame)) return
    const path = pathOf(frame)
    const found = await header(frame)
    if (found.width !== info.width || found.height !== info.height) {
      const problem = `is ${found.width} x ${found.height}, the plate is ${info.width} x ${info.height}`
      throw plateError('FRAME_SIZE', path, problem, 'a plate has one size; move the odd frames elsewhere')
    }
    if (levelsOf(found.bitDepth) !== levels) {
      const problem = `holds ${found.bitDepth} pixels, the plate ${info.bitDepth}`
      throw plateError('FRAME_DEPTH', path, problem, 'a plate has one depth; move the odd frames elsewhere')
    }
    sized.add(frame)
  }
  const reading = async <T>(frame: number, read: (path: string) => Promise<T>): Promise<T> => {
    await check(frame)
    try {
      return await read(pathOf(frame))
    } catch (cause) {
      throw unreadable(pathOf(frame), cause)
    }
  }
  const { readThrough, readAlpha } = reader
  return {
    spec,
    name: sequence.name,
    folder,
    frames,
    pathOf,
    stem: stemOf(sequence) || basename(folder) || 'plate',
    numberOf: (frame) => numberIn(sequence, frame),
    info,
    format: extensionOf(sequence.name),
    source: {
      check,
      header,
      read: (frame, rect, outside) => reading(frame, (path) => reader.read(path, rect, { layer, outside })),
      ...(readAlpha && {
        readAlpha: (frame, rect) => reading(frame, (path) => readAlpha(path, rect, { layer })),
      }),
      ...(readThrough && {
        readThrough: (frame, rect, table) =>
          reading(frame, (path) => readThrough(path, rect, table, { layer })),
      }),
      levels,
    },
  }
}

async function probeFirst(
  reader: FrameReader,
  frames: readonly number[],
  pathOf: (frame: number) => string,
  layer: string | undefined,
): Promise<{ frame: number; info: FrameInfo }> {
  let first: OffcutError | undefined
  for (const frame of frames.slice(0, PROBED_AT_MOST)) {
    try {
      return { frame, info: await reader.probe(pathOf(frame), { layer }) }
    } catch (cause) {
      first ??= unreadable(pathOf(frame), cause)
      // what the caller got wrong is wrong for every frame
      if (cause instanceof OffcutError) break
    }
  }
  throw first
}

/** Largest integer of a depth such as `10-bit`; undefined for floats and for depths too deep for a table. */
function levelsOf(bitDepth: string): number | undefined {
  const bits = Number(/^(\d+)-bit$/.exec(bitDepth)?.[1])
  return bits <= 16 ? 2 ** bits - 1 : undefined
}

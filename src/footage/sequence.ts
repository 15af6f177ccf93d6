// A plate of one picture file per frame.
import { basename, join } from 'node:path'
import { OffcutError, plateError } from '../errors.js'
import type { Rect } from '../raster/rect.js'
import type { Located } from './locate.js'
import { numberIn, stemOf } from './naming.js'
import type { FrameInfo, FrameReader, ReadOptions } from './reader.js'
import { extensionOf, readerFor } from './readers.js'
import { RecentRects } from './recent-rects.js'
import { missing, type Opened, type Source, unreadable } from './source.js'

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
  // What is known of frames: a header is read once, by itself or on the way to the frame's pixels.
  const known = new Map<number, FrameInfo>([[probed, info]])

  const header = async (frame: number): Promise<FrameInfo> => {
    const path = pathOf(frame)
    const found =
      known.get(frame) ??
      (await reader.probe(path, { layer }).catch((cause): never => {
        throw unreadable(path, cause)
      }))
    known.set(frame, found)
    return found
  }
  const like = (frame: number, found: FrameInfo): void => {
    const path = pathOf(frame)
    if (found.width !== info.width || found.height !== info.height) {
      const problem = `is ${found.width} x ${found.height}, the plate is ${info.width} x ${info.height}`
      throw plateError('FRAME_SIZE', path, problem, 'a plate has one size; move the odd frames elsewhere')
    }
    if (levelsOf(found.bitDepth) !== levels) {
      const problem = `holds ${found.bitDepth} pixels, the plate ${info.bitDepth}`
      throw plateError('FRAME_DEPTH', path, problem, 'a plate has one depth; move the odd frames elsewhere')
    }
  }
  const check = async (frame: number): Promise<void> => like(frame, await header(frame))
  const reading = async <T>(
    frame: number,
    read: (path: string, options: ReadOptions) => Promise<T>,
    outside?: number,
  ): Promise<T> => {
    const path = pathOf(frame)
    const onHeader = (found: FrameInfo): void => {
      known.set(frame, found)
      like(frame, found)
    }
    try {
      return await read(path, { layer, outside, onHeader })
    } catch (cause) {
      throw unreadable(path, cause)
    }
  }
  const kept = new Set<RecentRects>()
  const read: Source['read'] = (frame, rect, outside) => {
    const load = (part: Rect) => reading(frame, (path, options) => reader.read(path, part, options), outside)
    // Nobody comes back to a whole frame, which would take the room of many pieces.
    const whole = rect.w === info.width && rect.h === info.height
    const recent = whole ? undefined : [...kept].find((some) => some.holds(frame, rect))
    return recent === undefined ? load(rect) : recent.read(frame, rect, outside, load)
  }
  const { readThrough, readHalves, eachHalves, readAlpha } = reader
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
      byRows: reader.byRows === true,
      downwards: reader.downwards === true,
      check,
      header,
      read,
      keep: async (some, rect) => {
        const recent = new RecentRects(new Set(some), rect)
        kept.add(recent)
        return async () => {
          kept.delete(recent)
        }
      },
      ...(readAlpha && {
        readAlpha: (frame, rect) => reading(frame, (path, options) => readAlpha(path, rect, options)),
      }),
      ...(readHalves && {
        readHalves: (frame, rect, room) =>
          reading(frame, (path, options) => readHalves(path, rect, { ...options, room })),
      }),
      ...(eachHalves && {
        eachHalves: (frame, use) => reading(frame, (path, options) => eachHalves(path, use, options)),
      }),
      ...(readThrough && {
        readThrough: (frame, rect, table) =>
          reading(frame, (path, options) => readThrough(path, rect, table, options)),
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

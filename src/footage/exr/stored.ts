// The blocks of a file as they lie in it, for writing a frame again of which most stays as it was.

import { letGo } from '../../raster/let-go.js'
import { BoundedFile } from '../bounded-file.js'
import { inflateTo } from './bytes.js'
import { eachChunk } from './chunks.js'
import { type ExrHeader, readHeader } from './header.js'
import { choosePicture, type Picture } from './layers.js'

/** A picture's blocks of 16 rows, from the top. */
export interface StoredBlocks {
  readonly width: number
  readonly height: number
  readonly channels: 3 | 4
  /** ZIP, or the samples as they are where a block has as many bytes as they take. */
  readonly blocks: readonly Uint8Array[]
}

/**
 * The blocks of a file that holds its picture just as `writeExr` would: one part of half-float R, G, B and perhaps A, in
 * rows and ZIP, over all of the display window. Every block is inflated once, so that a broken one is not handed on.
 *
 * @returns null where the file holds it otherwise, or more than that
 * @throws BadFile; as choosePicture
 */
export function readStored(path: string, layer: string | undefined): Promise<StoredBlocks | null> {
  return BoundedFile.use(path, 'EXR_BAD', async (file) => {
    const header = await readHeader(file)
    const picture = choosePicture(header, path, layer)
    if (!isAsWritten(header, picture)) return null
    const { part } = picture
    const found: Uint8Array[] = []
    await eachChunk(file, header, part, part.dataWindow, async ({ index }, { size }, data) => {
      if (data.length !== size) letGo(await inflateTo(data, size))
      found[index] = Uint8Array.from(data)
    })
    const { w: width, h: height } = part.dataWindow
    return { width, height, channels: part.channels.length === 4 ? 4 : 3, blocks: found }
  })
}

function isAsWritten({ parts, multiPart }: ExrHeader, { part, kind }: Picture): boolean {
  const { dataWindow: data, displayWindow: display } = part
  const names = part.channels.map(({ name }) => name).join()
  return (
    !multiPart &&
    parts.length === 1 &&
    !part.deep &&
    part.tiling === null &&
    part.compression === 'zip' &&
    kind === 'rgb' &&
    (names === 'B,G,R' || names === 'A,B,G,R') &&
    part.channels.every((c) => c.type === 'half' && c.xSampling === 1 && c.ySampling === 1) &&
    data.x === display.x &&
    data.y === display.y &&
    data.w === display.w &&
    data.h === display.h
  )
}

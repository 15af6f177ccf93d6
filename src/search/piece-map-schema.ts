// How a result file writes a mosaic's map: apart from those who read it, since a search needs no schema.
import { z } from 'zod'

/** "0:12 1:30": twelve pixels of piece 0, then thirty of piece 1. */
const ROW = /^\d{1,3}:\d{1,6}( \d{1,3}:\d{1,6})*$/

export const pieceMapSchema = z.strictObject({
  box: z
    .tuple([z.int(), z.int(), z.int().positive(), z.int().positive()])
    .describe('x, y, width, height on the common grid of all frames'),
  rows: z
    .array(z.string().regex(ROW))
    .describe('per row of the box its runs, left to right: index into the pieces of a frame, colon, pixels'),
})

export type PieceMap = z.infer<typeof pieceMapSchema>

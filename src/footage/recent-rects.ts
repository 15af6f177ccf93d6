// What was read of a plate's frames lately: repairs come back to the same part of the same donors for every target frame, a
// pixel to the left or lower down.
import { type Frame, frame } from '../raster/frame.js'
import { cutSamples } from '../raster/plane.js'
import { contains, grow, intersect, type Rect } from '../raster/rect.js'

/** Read beyond what is asked for on every side, so that a donor that sways is read once, pixels. */
const ROOM_PX = 8
/** All that is kept at once, bytes: 40 pieces of 512 x 512 pixels. */
const MAX_BYTES = 128 * 2 ** 20

interface Piece {
  readonly frame: number
  readonly rect: Rect
  readonly outside: number | undefined
  /** Three samples a pixel. */
  readonly samples: Promise<Float32Array>
}

export class RecentRects {
  /** The one that was used longest ago comes first. */
  private readonly pieces = new Set<Piece>()

  /**
   * @param frames that are worth keeping
   * @param within what is read of them
   */
  constructor(
    private readonly frames: ReadonlySet<number>,
    private readonly within: Rect,
  ) {}

  /** Whether a rectangle of a frame is kept once it is read. */
  holds(number: number, rect: Rect): boolean {
    return this.frames.has(number) && contains(this.within, rect)
  }

  /**
   * A rectangle that it holds: a copy of its own, as `load` would have given it.
   *
   * @param outside as ReadOptions has it: what `load` puts where the file has no picture
   * @param load    reads some rectangle of the frame
   */
  async read(
    number: number,
    rect: Rect,
    outside: number | undefined,
    load: (rect: Rect) => Promise<Frame>,
  ): Promise<Frame> {
    const same = (p: Piece) => p.frame === number && Object.is(p.outside, outside) && contains(p.rect, rect)
    const piece = [...this.pieces].find(same) ?? this.load(number, rect, outside, load)
    this.pieces.delete(piece)
    this.pieces.add(piece)
    this.makeRoom()
    return frame(rect.h, rect.w, 3, cutSamples(await piece.samples, piece.rect, rect, 3))
  }

  private load(
    number: number,
    rect: Rect,
    outside: number | undefined,
    load: (rect: Rect) => Promise<Frame>,
  ): Piece {
    const larger = intersect(grow(rect, ROOM_PX), this.within)
    const samples = load(larger).then(({ data }) => data)
    const piece: Piece = { frame: number, rect: larger, outside, samples }
    // What could not be read may be there the next time.
    samples.catch(() => this.pieces.delete(piece))
    return piece
  }

  private makeRoom(): void {
    let bytes = 0
    for (const { rect } of this.pieces) bytes += 12 * rect.w * rect.h
    for (const piece of this.pieces) {
      if (bytes <= MAX_BYTES) return
      bytes -= 12 * piece.rect.w * piece.rect.h
      this.pieces.delete(piece)
    }
  }
}

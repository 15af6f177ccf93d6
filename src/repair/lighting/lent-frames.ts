// What a lighting pass reads: the donor and the moment's unlit frames, moved onto a target frame.
import { type Plate, readRect } from '../../footage/plate.js'
import { readRects } from '../../footage/read-many.js'
import type { Frame } from '../../raster/frame.js'
import { contains, grow, intersect, type Rect } from '../../raster/rect.js'
import { compose, type Placement, type Transform, transformOf } from '../../raster/transform.js'
import type { FrameMatch, StackShare } from '../../search/result.js'
import { SWAY_ROOM_PX } from '../footage.js'
import { donorRect, lend } from '../lend.js'
import type { RepairJob } from '../repair.js'
import type { Lit, UnlitFrame } from './reference-state.js'

interface Source {
  readonly rect: Rect
  readonly picture: Frame
}

/** Frames of one candidate over the region's window; unlit frames are read once for all target frames. */
export class LentFrames {
  /** Per plate, all its unlit frames. */
  readonly #sources = new Map<number, { rect: Rect; pictures: Promise<Map<number, Frame>> }>()

  /** @param unlit the moment's unlit frames, as its result holds them: each moves onto the peak's frame */
  constructor(
    readonly job: RepairJob,
    readonly unlit: readonly StackShare[],
  ) {}

  /** A frame's donor. @throws FRAME_UNREADABLE, FRAME_MISSING */
  donor(match: FrameMatch): Promise<Lit> {
    return this.#lent(match.plate, match.donor, transformOf(match))
  }

  /**
   * The unlit frames in the light of the peak.
   *
   * @param place moves the peak's frame onto the target frame
   * @throws as donor
   */
  async unlitAt(place: Placement): Promise<UnlitFrame[]> {
    const frames: UnlitFrame[] = []
    for (const share of this.unlit) {
      const onTarget = compose(transformOf(place), transformOf(share))
      const lit = await this.#lent(share.plate, share.frame, onTarget)
      for (let j = 0; j < lit.picture.data.length; j++) lit.picture.data[j] *= share.gain[j % 3]
      frames.push({ ...lit, frame: share.frame })
    }
    return frames
  }

  /** A frame's pixels over the window, and which of them say something. */
  async #lent(plate: number, number: number, onTarget: Transform): Promise<Lit> {
    const donor = this.job.donors[plate]
    const { window } = this.job.region
    const { rect, picture: source } = await this.#sourceOf(plate, number, onTarget)
    const { picture, there } = lend(this.job.workspace, source, rect, window, onTarget)
    const clip = donor.clipLevel
    const validity = new Float32Array(there.length)
    for (let i = 0, j = 0; i < validity.length; i++, j += 3) {
      const { data } = picture
      if (there[i] === 1 && data[j] < clip && data[j + 1] < clip && data[j + 2] < clip) validity[i] = 1
    }
    return { picture, validity, clipLevel: clip }
  }

  /** Unlit frames serve every target frame, each time a little elsewhere: read once, with room round them. */
  async #sourceOf(plate: number, number: number, onTarget: Transform): Promise<Source> {
    const donor = this.job.donors[plate]
    const full = donor.active
    const needed = donorRect(this.job.region.window, onTarget, full)
    const shares = this.unlit.filter((s) => s.plate === plate)
    if (!shares.some((s) => s.frame === number)) {
      return { rect: needed, picture: await readRect(donor, number, needed) }
    }
    let held = this.#sources.get(plate)
    if (held === undefined || !contains(held.rect, needed)) {
      const rect = intersect(grow(needed, SWAY_ROOM_PX), full)
      const frames = shares.map((s) => s.frame)
      held = { rect, pictures: readAll(donor, frames, rect) }
      this.#sources.set(plate, held)
    }
    return { rect: held.rect, picture: (await held.pictures).get(number)! }
  }
}

/** In one go: of a movie every reading decodes what comes before it. */
async function readAll(plate: Plate, frames: readonly number[], rect: Rect): Promise<Map<number, Frame>> {
  const pictures = new Map<number, Frame>()
  for await (const { frame, picture, error } of readRects(plate, frames, rect)) {
    if (picture === undefined) throw error
    pictures.set(frame, picture)
  }
  return pictures
}

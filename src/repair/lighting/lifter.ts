// The ratio pass: a donor over its own quiet state, per channel, in linear light: the shadow or the reflection alone.
import { misuse } from '../../errors.js'
import { type Plate, readRect } from '../../footage/plate.js'
import { readRects } from '../../footage/read-many.js'
import { powers } from '../../kernels/ratio.js'
import type { Workspace } from '../../kernels/workspace.js'
import { type Frame, frame } from '../../raster/frame.js'
import { contains, grow, intersect, type Rect } from '../../raster/rect.js'
import { everyInside, featheredAlpha } from '../../region/region.js'
import type { Candidate, FrameMatch, StackShare } from '../../search/result.js'
import { clipLevel } from '../../track/read-frames.js'
import { donorRect, lend } from '../lend.js'
import { FEATHER_PX, type RepairedFrame, type RepairJob } from '../repair.js'
import { type BandGrain, logRatios, withoutGrain } from './bands.js'
import { fillHoles, Occluders } from './occluders.js'
import {
  both,
  channelsOf,
  type Lit,
  NOISE_RADIUS_PX,
  type Quiet,
  quietAt,
  quietGrain,
  referenceState,
  type UnlitFrame,
} from './unlit.js'

/** Stops are multiplied by this: 1 is the change as it was shot. */
export const STRENGTH = 1
/** Most of it: a shadow of one stop is then four stops deep, more than any shadow takes. */
export const MAX_STRENGTH = 4
/** Room round a quiet frame's rectangle for the camera's sway, pixels. */
export const SWAY_ROOM_PX = 8

export interface RatioOptions {
  /** Scales the change in stops, 0 to MAX_STRENGTH; 0 leaves the target as it is. */
  readonly strength?: number
  readonly featherPx?: number
}

export interface LiftedFrame extends RepairedFrame {
  /** Linear RGB factors over `rect`: what the target is multiplied by; 1 beyond the feathered mask. */
  readonly ratio: Frame
}

/** @throws MISUSE where a strength is none: below 0 a shadow would turn into light */
export function checkStrength(strength: number): void {
  if (!(strength >= 0 && strength <= MAX_STRENGTH))
    throw misuse(
      '`strength`',
      `0 (no change) to ${MAX_STRENGTH}, where 1 is the change as it was shot`,
      strength,
    )
}

/** Lifts the ratio of one candidate's frames; the quiet state is read once for each place it is needed at. */
export class RatioLifter {
  readonly #shares: readonly StackShare[]
  readonly #inside: Float32Array
  /** Per plate, all its quiet frames. */
  readonly #sources = new Map<number, { rect: Rect; pictures: Promise<Map<number, Frame>> }>()
  #known: Found<Known> | undefined
  #grain: Found<BandGrain> | undefined

  /** @throws MISUSE where the candidate holds no moment of light to lift */
  constructor(
    readonly job: RepairJob,
    readonly candidate: Candidate,
  ) {
    const shares = candidate.moment?.quietState ?? []
    if (shares.length === 0) {
      throw misuse('`ratio`', 'a candidate found with `aim` borrow, which has a quiet state', candidate.id)
    }
    this.#shares = shares
    this.#inside = everyInside(job.region)
  }

  /** @throws MISUSE where the strength is none; FRAME_UNREADABLE, FRAME_MISSING from the footage */
  async lift(
    match: FrameMatch,
    { strength = STRENGTH, featherPx = FEATHER_PX }: RatioOptions = {},
  ): Promise<LiftedFrame> {
    checkStrength(strength)
    const { region, target } = this.job
    const { window } = region
    const { inside } = region.frames.get(match.target)!
    const [seen, lent, known] = await Promise.all([
      readRect(target, match.target, window),
      this.#lent(match.plate, match.donor, match.dx, match.dy),
      this.#quietFor(match),
    ])
    const stops = stopsOf(this.job.workspace, lent, known, match, window.w)
    const alpha = featheredAlpha(inside, window.w, featherPx)
    for (let i = 0; i < alpha.length; i++)
      if (lent.validity[i] === 0 && known.quiet.validity[i] === 0) alpha[i] = 0
    const ratio = frame(window.h, window.w, 3)
    const patch = frame(window.h, window.w, 3)
    for (let i = 0, j = 0; i < alpha.length; i++) {
      for (let c = 0; c < 3; c++, j++) {
        patch.data[j] = strength * stops[c][i]
        ratio.data[j] = alpha[i] * patch.data[j]
      }
    }
    powers(this.job.workspace, ratio.data)
    powers(this.job.workspace, patch.data)
    const repaired = frame(window.h, window.w, 3, seen.data.slice())
    for (let j = 0; j < patch.data.length; j++) {
      patch.data[j] *= seen.data[j]
      repaired.data[j] *= ratio.data[j]
    }
    return { rect: window, target: seen, donor: lent.picture, patch, repaired, alpha, mask: inside, ratio }
  }

  /** A frame's donor on the target, without a lift. @throws as lift */
  async donor(match: FrameMatch): Promise<{ rect: Rect; donor: Frame }> {
    const { picture } = await this.#lent(match.plate, match.donor, match.dx, match.dy)
    return { rect: this.job.region.window, donor: picture }
  }

  /** The donor's pixels over the window, and which of them say something. */
  async #lent(plate: number, number: number, dx: number, dy: number): Promise<Lit> {
    const donor = this.job.donors[plate]
    const { window } = this.job.region
    const { rect, picture: source } = await this.#sourceOf(plate, number, dx, dy)
    const { picture, there } = lend(this.job.workspace, source, rect, window, dx, dy)
    const clip = clipLevel(donor)
    const validity = new Float32Array(there.length)
    for (let i = 0, j = 0; i < validity.length; i++, j += 3) {
      const { data } = picture
      if (there[i] === 1 && data[j] < clip && data[j + 1] < clip && data[j + 2] < clip) validity[i] = 1
    }
    return { picture, validity }
  }

  /** Quiet frames serve every target frame, each time a little elsewhere: read once, with room round them. */
  async #sourceOf(plate: number, number: number, dx: number, dy: number): Promise<Source> {
    const donor = this.job.donors[plate]
    const full = donor.active
    const needed = donorRect(this.job.region.window, dx, dy, full)
    const shares = this.#shares.filter((s) => s.plate === plate)
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

  #quietFor(match: FrameMatch): Promise<Known> {
    const place = placeOf(match)
    if (!this.#known || apart(this.#known.place, place) > 0) this.#known = { place, value: this.#know(place) }
    return this.#known.value
  }

  async #know(place: Place): Promise<Known> {
    const here = await this.#quietStateAt(place)
    const { frames, quiet } = here
    const moment = this.candidate.moment!
    const passers =
      moment.what === 'light'
        ? new Occluders(this.job.workspace, frames, quiet, moment, this.#inside, this.job.region.window.w)
        : undefined
    return { quiet, passers, grain: await this.#grainNear(place, here) }
  }

  /** Grain is alike a few pixels on: it is measured where the first of the frames near by is, not for every sway. */
  #grainNear(place: Place, here: QuietPlace): Promise<BandGrain> {
    const near = this.candidate.frames.map(placeOf).find((p) => apart(p, place) <= NOISE_RADIUS_PX) ?? place
    if (!this.#grain || apart(this.#grain.place, near) > 0) {
      const found = apart(near, place) > 0 ? this.#quietStateAt(near) : Promise.resolve(here)
      const { w } = this.job.region.window
      this.#grain = {
        place: near,
        value: found.then(({ frames, quiet }) => quietGrain(this.job.workspace, frames, quiet, w)),
      }
    }
    return this.#grain.value
  }

  async #quietStateAt(place: Place): Promise<QuietPlace> {
    const frames = await this.#quietFrames(place)
    return {
      frames,
      quiet: referenceState(
        this.job.workspace,
        frames,
        this.candidate.moment!.peak,
        this.job.region.window.w,
      ),
    }
  }

  async #quietFrames({ dx, dy }: Place): Promise<UnlitFrame[]> {
    const frames: UnlitFrame[] = []
    for (const share of this.#shares) {
      const lit = await this.#lent(share.plate, share.frame, dx + share.dx, dy + share.dy)
      for (let j = 0; j < lit.picture.data.length; j++) lit.picture.data[j] *= share.gain[j % 3]
      frames.push({ ...lit, frame: share.frame })
    }
    return frames
  }
}

interface QuietPlace {
  readonly frames: readonly UnlitFrame[]
  readonly quiet: Quiet
}

interface Known {
  readonly quiet: Quiet
  /** Absent where the moment is a thing: lifting it shows what it is. */
  readonly passers: Occluders | undefined
  readonly grain: BandGrain
}

/** Moves the peak's frame onto a target frame. */
interface Place {
  readonly dx: number
  readonly dy: number
}

/** What was found for a place. */
interface Found<T> {
  readonly place: Place
  readonly value: Promise<T>
}

export function placeOf(match: FrameMatch): Place {
  return match.quiet ?? match
}

function apart(a: Place, b: Place): number {
  return Math.hypot(a.dx - b.dx, a.dy - b.dy)
}

interface Source {
  readonly rect: Rect
  readonly picture: Frame
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

/** log2 of the factors of R, G and B. */
function stopsOf(
  workspace: Workspace,
  lent: Lit,
  { quiet, passers, grain }: Known,
  match: FrameMatch,
  width: number,
): Float32Array[] {
  const base = quietAt(quiet, match.donor, match.quiet?.gain ?? [1, 1, 1])
  const donor = channelsOf(lent)
  const validity = both(quiet.validity, passers?.validity(donor, lent.validity, base) ?? lent.validity)
  const stops = withoutGrain(
    workspace,
    logRatios(workspace, donor, base, validity, quiet.noise, width),
    grain,
    width,
  )
  fillHoles(workspace, stops, validity, width)
  return stops
}

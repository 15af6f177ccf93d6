// A candidate that hides, into pixels: its donors' light and place as they were found, the plate's grain put back.
import { FEATHER_PX } from '../../defaults.js'
import { energySums, greenMean } from '../../kernels/patch.js'
import type { Workspace } from '../../kernels/workspace.js'
import { type Frame, frame } from '../../raster/frame.js'
import { dilate, featheredAlpha } from '../../region/region.js'
import type { Candidate, FrameMatch } from '../../search/result.js'
import { DETAIL_PX, detailSpectrum, roomFor, tilesOver, wholeTiles } from '../grain/detail-spectrum.js'
import { AROUND_PX, detailEnergy, type Fit, fitGrain, keepDetail } from '../grain/fit.js'
import { type Lacking, lackingGrain, lentGrain } from '../grain/lacking.js'
import { type GrainModel, type Spectrum, varianceOf } from '../grain/model.js'
import { KeptNoise, LastingField } from '../grain/noise-field.js'
import { addGrain, MIN_PART } from '../grain/synthesise.js'
import { over } from '../over.js'
import type { RepairedFrame, RepairJob, RepairOptions } from '../repair.js'
import { blurResponse } from '../sharpness/match.js'
import { type Blended, blend, lendersOf } from './blend.js'
import { blurredLent } from './blurred-lent.js'
import { BorderOverTime } from './border-over-time.js'
import { type DonorSharpness, donorSharpness } from './donor-sharpness.js'
import { DonorsDetail } from './donors-detail.js'
import { type GrainLender, type GrainLenders, grainLenders, withGrainOf } from './lent-grain.js'
import { underMembrane } from './membrane.js'
import { grainRound, plateGrain } from './plate-grain.js'
import { seenTarget } from './seen-target.js'

/** Streams of white noise: components of what is new on each frame, then of what lasts. */
const LASTING_STREAMS = 3
/** The same for all candidates of a result. */
const noises = new WeakMap<RepairJob, KeptNoise>()

export interface HiddenFrame extends RepairedFrame {
  /** Per pixel 1 where a donor lends it: what is absent has no value, and black is one. */
  readonly there: Readonly<Uint8Array>
  /** Whose finest detail stands for that of the lent pixels; null: their own does. */
  readonly grain: GrainLender | null
}

/** A target frame, and where the patch covers it. */
interface Covered {
  readonly seen: Frame
  readonly alpha: Readonly<Float32Array>
  /** Corners of tiles over the mask. */
  readonly tiles: Readonly<Int32Array>
}

/** What is lent where its detail is known. */
type Regrained = Pick<Blended, 'pieces' | 'there'> & { readonly detail: NonNullable<Blended['detail']> }

/** Repairs the frames of one candidate, in any order; in the order of the frames it is quickest. */
export class HidePass {
  #lasting: readonly LastingField[] | undefined
  #sharpness: Promise<DonorSharpness> | undefined
  #border: BorderOverTime | undefined
  #lenders: Promise<GrainLenders | null> | undefined

  constructor(
    readonly job: RepairJob,
    readonly candidate: Candidate,
    readonly options: RepairOptions = {},
    /** As `sharpness` has it, where that is known. */
    known?: DonorSharpness,
  ) {
    if (known !== undefined) this.#sharpness = Promise.resolve(known)
  }

  /** How much sharper or softer than the plate the donors are. @throws as repair */
  sharpness(): Promise<DonorSharpness> {
    this.#sharpness ??= donorSharpness(this.job, this.candidate, () => grainRound(this.job))
    return this.#sharpness
  }

  /** @param match one of the candidate's frames @throws FRAME_UNREADABLE, FRAME_MISSING from the footage */
  async repair(match: FrameMatch): Promise<HiddenFrame> {
    const { featherPx = FEATHER_PX, featherSide, addGrain: isGrained = true } = this.options
    const { region } = this.job
    const { window } = region
    const { inside } = region.frames.get(match.target)!
    const model = isGrained ? await plateGrain(this.job) : null
    const { blurPx } = await this.sharpness()
    const lenders = model === null ? null : await this.#grainLenders(model)
    const lacking = model === null ? [] : this.#lackingOf(match, model, blurPx, lenders)
    const tiles = tilesOver(inside, window.w)
    const held = this.job.workspace.hold()
    try {
      const isAsked = model !== null && isLacking(lacking, model)
      const asked = isAsked ? new DonorsDetail(this.job.workspace, window, tiles, held) : null
      const reading = seenTarget(this.job, match.target)
      // What fails is heard below, when nobody writes into what is held any more.
      reading.catch(() => {})
      const mean = await blend(this.job, match, this.candidate.map, held, lenders === null ? asked : null)
      const grain = lenders?.at(match.target) ?? null
      const blended = grain === null ? mean : await this.#grainy(mean, grain, inside, asked)
      const seen = await reading
      const asSharp = blurPx > 0 ? blurredLent(blended, blurPx, model) : blended
      const lent = this.options.membrane ? await this.#closed(match, seen, blended, asSharp) : asSharp
      const { raw: donor, there } = lent
      const alpha = withoutHoles(featheredAlpha(inside, window.w, featherPx, featherSide), there)
      const made = this.#finish(match.target, lent, model, lacking, { seen, alpha, tiles })
      return { rect: window, target: seen, donor, there, grain, alpha, mask: inside, ...made }
    } finally {
      held.release()
    }
  }

  /** Puts the grain back and lays the patch over the target. */
  #finish(
    target: number,
    lent: Blended,
    model: GrainModel | null,
    lacking: readonly Lacking[],
    { seen, alpha, tiles }: Covered,
  ): Pick<HiddenFrame, 'patch' | 'repaired' | 'detail'> {
    const { workspace } = this.job
    const [height, width] = lent.matched.shape
    return workspace.within((scratch) => {
      // In the workspace, so that no kernel copies it in and out.
      const own = frame(height, width, 3, scratch.laid(lent.matched.data))
      const laid = scratch.laid(alpha)
      const detail =
        model === null || lent.detail === null
          ? null
          : this.#regrain(target, own, { ...lent, detail: lent.detail }, model, lacking, laid, tiles)
      const repaired = over(workspace, own, laid, seen)
      return { patch: frame(height, width, 3, own.data.slice()), repaired, detail }
    })
  }

  /** @param lent as it is told by at the border; `asSharp` is what is closed */
  async #closed(match: FrameMatch, seen: Frame, lent: Blended, asSharp: Blended): Promise<Blended> {
    this.#border ??= new BorderOverTime(this.job, this.candidate)
    const membrane = await this.#border.membraneAt(match, seen, lent)
    return membrane === null ? asSharp : underMembrane(asSharp, membrane)
  }

  #grainLenders(model: GrainModel): Promise<GrainLenders | null> {
    this.#lenders ??= grainLenders(this.job, this.candidate, model)
    return this.#lenders
  }

  async #grainy(
    mean: Blended,
    lender: GrainLender,
    inside: Readonly<Float32Array>,
    asked: DonorsDetail | null,
  ): Promise<Blended> {
    const donor = await withGrainOf(this.job, mean, lender, inside)
    asked?.add({ ...donor, gain: lender.share.gain[1], piece: null })
    return { ...mean, detail: asked?.done() ?? null }
  }

  /** What a frame's lent pixels lack, of a mosaic each piece by itself, as each lends grain of its own. */
  #lackingOf(match: FrameMatch, model: GrainModel, blurPx: number, lenders: GrainLenders | null): Lacking[] {
    const { frames, grain } = this.candidate
    // The first frame is treated as the one after it: it must not stand out by what it lacks.
    const index = frames.findIndex((f) => f.target === match.target)
    const beside = frames[index - 1] ?? frames[index + 1]
    const lendersAt = (one: FrameMatch) =>
      lenders === null ? lendersOf(one) : [{ ...lenders.at(one.target).share, weight: 1 }]
    const shares = lendersAt(match)
    const earlier = index < 0 || beside === undefined ? undefined : lendersAt(beside)
    const { window } = this.job.region
    const under = blurPx > 0 ? blurResponse(blurPx) : null
    return (match.pieces ? shares.map((s) => [s]) : [shares]).map((of) => {
      const { kept, renewed } = lentGrain(model, of, earlier, window, grain)
      return lackingGrain(model, { kept: under === null ? kept : kept.map((v, i) => v * under[i]!), renewed })
    })
  }

  /**
   * Where the patch is laid.
   *
   * @param patch what is lent, in the workspace; changed
   * @returns as RepairedFrame has it: detail over that of the donors
   */
  #regrain(
    target: number,
    patch: Frame,
    { pieces, detail, there }: Regrained,
    model: GrainModel,
    lacking: readonly Lacking[],
    alpha: Readonly<Float32Array>,
    tiles: Readonly<Int32Array>,
  ): number | null {
    const { workspace } = this.job
    const width = patch.shape[1]
    return workspace.within((scratch) => {
      const energy = scratch.laid(detail.energy)
      const placed = { ...model, where: model.where && scratch.laid(model.where) }
      // The edge of a hole is no detail.
      const own = detailSpectrum(workspace, patch, wholeTiles(tiles, there, width))
      const light = greenMean(workspace, patch.data, alpha)
      for (const [k, of] of lacking.entries())
        workspace.within((inner) => {
          const roomed = roomFor(of, model, detail.spectrum, own, light)
          const where = { alpha, piece: pieces?.[k] ?? null }
          const fit = fitGrain(workspace, inner, patch, energy, placed, roomed, where)
          keepDetail(workspace, patch, fit.stays)
          this.#add(patch, target, placed, roomed, fit)
        })
      return detailRatio(workspace, patch, energy, alpha, nearHoles(there, width))
    })
  }

  #add(patch: Frame, target: number, model: GrainModel, lacking: Lacking, fit: Fit): void {
    const pixels = fit.stays.length
    const noise = noises.get(this.job) ?? new KeptNoise(this.job.room)
    noises.set(this.job, noise)
    const targets = this.candidate.frames.map((f) => f.target)
    this.#lasting ??= [0, 1, 2].map(
      (k) => new LastingField(pixels, LASTING_STREAMS + k, targets, lacking.carried, noise),
    )
    const white = {
      fresh: (k: number) => noise.field(pixels, target, k),
      lasting: (k: number) => this.#lasting![k]!.at(target),
    }
    addGrain(this.job.workspace, patch, model, lacking, white, fit)
  }
}

/** 0 where nobody lends. */
function withoutHoles(alpha: Readonly<Float32Array>, there: Readonly<Uint8Array>): Readonly<Float32Array> {
  if (!there.includes(0)) return alpha
  const out = alpha.slice()
  for (let i = 0; i < out.length; i++) if (there[i] === 0) out[i] = 0
  return out
}

/** Is there anything to be made that somebody would see? */
function isLacking(lacking: readonly Lacking[], { whole }: GrainModel): boolean {
  const variance = (spectra: readonly Spectrum[]) => spectra.reduce((sum, s) => sum + varianceOf(s), 0)
  const least = MIN_PART * variance(whole)
  return lacking.some(({ change, absent }) => variance(change) + variance(absent) > least)
}

/** One frame of a candidate by itself. @throws as HidePass.repair */
export function repairFrame(
  job: RepairJob,
  candidate: Candidate,
  match: FrameMatch,
  options?: RepairOptions,
): Promise<HiddenFrame> {
  return new HidePass(job, candidate, options).repair(match)
}

/** 1 per pixel that is near a hole in who lends, whose edge is no detail; null where there is none. */
function nearHoles(there: Readonly<Uint8Array>, width: number): Uint8Array | null {
  if (!there.includes(0)) return null
  const holes = new Uint8Array(there.length)
  for (let i = 0; i < holes.length; i++) holes[i] = 1 - there[i]!
  return dilate(holes, width, there.length / width, DETAIL_PX + AROUND_PX)
}

/**
 * Where a patch is laid all over.
 *
 * @param energy of the donors by themselves
 * @param out    1 per pixel that does not count; null: all count
 */
function detailRatio(
  workspace: Workspace,
  patch: Frame,
  energy: Readonly<Float32Array>,
  alpha: Readonly<Float32Array>,
  out: Readonly<Uint8Array> | null,
): number | null {
  return workspace.within((scratch) => {
    const own = detailEnergy(workspace, patch, scratch.floats(alpha.length))
    const [has, donors] = energySums(workspace, own, energy, alpha, out)
    return donors > 0 ? Math.sqrt(has / donors) : null
  })
}

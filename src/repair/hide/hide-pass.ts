// A candidate that hides, into pixels: its donors' light and place as they were found, the plate's grain put back.
import { FEATHER_PX } from '../../defaults.js'
import { ownCopy } from '../../kernels/workspace.js'
import { type Frame, frame } from '../../raster/frame.js'
import { featheredAlpha } from '../../region/region.js'
import type { Candidate, FrameMatch, StackShare } from '../../search/result.js'
import { tilesOver } from '../grain/detail-spectrum.js'
import { type Lacking, lackingGrain, lentAlike, lentGrain } from '../grain/lacking.js'
import { type GrainModel, type Spectrum, varianceOf } from '../grain/model.js'
import { MIN_PART } from '../grain/synthesise.js'
import { hasHoles } from '../lend.js'
import { over } from '../over.js'
import type { RepairedFrame, RepairJob, RepairOptions } from '../repair.js'
import { blurResponse } from '../sharpness/match.js'
import { type Blended, type BlendedAsShot, blendLit } from './blend.js'
import { blurredLent } from './blurred-lent.js'
import { BorderOverTime } from './border-over-time.js'
import { isSame } from './common-donors.js'
import { detailRatio, nearHoles } from './detail-ratio.js'
import { type DonorSharpness, donorSharpness } from './donor-sharpness.js'
import { DonorsDetail } from './donors-detail.js'
import { lendersOf } from './lent-donors.js'
import { type GrainLender, type GrainLenders, grainLenders, withGrainOf } from './lent-grain.js'
import { MadeNoise } from './made-noise.js'
import { underMembrane } from './membrane.js'
import { grainRound, type PlateGrain } from './plate-grain.js'
import { moreThatChanges, type PlatePace, paceFor } from './plate-pace.js'
import { putBackGrain } from './put-back-grain.js'
import { type FinestLenders, finestLenders } from './round-donor.js'
import { seenTarget } from './seen-target.js'

export interface HiddenFrame extends RepairedFrame {
  /** Per pixel 1 where a donor lends it: what is absent has no value, and black is one. */
  readonly there: Readonly<Uint8Array>
  /** Whose finest detail stands for that of the lent pixels; null: their own does. */
  readonly grain: GrainLender | null
  /** Of each that lends, whose finest detail stands for its own; null: their own does. */
  readonly finest: readonly StackShare[] | null
}

/** What a candidate lends to a frame, over the region's window. */
export type LentFrame = Pick<HiddenFrame, 'rect' | 'target' | 'alpha' | 'mask' | 'patch'>

/** What is measured of a frame, over the region's window. */
export type MeasuredFrame = LentFrame & Pick<HiddenFrame, 'repaired' | 'detail'>

/** What is made of a frame, its patch in the workspace. */
interface Made extends Pick<HiddenFrame, 'target' | 'alpha' | 'mask' | 'grain' | 'finest' | 'patch'> {
  readonly lent: Blended
  /** The alpha in the workspace. */
  readonly laid: Readonly<Float32Array>
  /** Of the donors by themselves, in the workspace; null where their detail is unknown. */
  readonly energy: Readonly<Float32Array> | null
}

/** Who lends a frame's finest detail. */
type Lender = StackShare & { readonly isPaced?: boolean }

/** Repairs the frames of one candidate, in any order; in the order of the frames it is quickest. */
export class HidePass {
  #noise: MadeNoise | undefined
  #sharpness: Promise<DonorSharpness> | undefined
  #border: BorderOverTime | undefined
  #lenders: Promise<GrainLenders | null> | undefined
  #finest: Promise<FinestLenders | null> | undefined
  /** By piece, what was lacking last: most frames lack what the one before does. */
  readonly #lacked: { readonly name: string; readonly lacking: Lacking }[] = []

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
  repair(match: FrameMatch): Promise<HiddenFrame> {
    return this.#made(match, true, (made) => {
      const { data } = made.lent.raw!
      const { window } = this.job.region
      // Whoever has it may keep it for longer than the workspace, in which it may lie.
      const own = data.buffer instanceof SharedArrayBuffer ? ownCopy(data) : data
      return { ...this.#finished(made), donor: frame(window.h, window.w, 3, own) }
    })
  }

  /**
   * The same without the donors, as it is measured: its patch and what is repaired as they lie in the workspace.
   *
   * @param use must keep neither @throws as repair
   */
  measure<T>(match: FrameMatch, use: (made: MeasuredFrame) => T): Promise<T> {
    const { workspace, region } = this.job
    return this.#made(match, false, (made) =>
      workspace.within((scratch) => {
        const { target, alpha, mask, patch, laid } = made
        const repaired = over(workspace, patch, laid, target, (length) => scratch.floats(length))
        return use({
          rect: region.window,
          target,
          alpha,
          mask,
          patch,
          repaired,
          detail: this.#detailOf(made),
        })
      }),
    )
  }

  #finished(made: Made): Omit<HiddenFrame, 'donor'> {
    const { target, lent, grain, finest, alpha, laid, mask, patch } = made
    const { workspace, region } = this.job
    const { window: rect } = region
    const own = frame(rect.h, rect.w, 3, ownCopy(patch.data))
    const repaired = over(workspace, patch, laid, target)
    const detail = this.#detailOf(made)
    return { rect, target, there: lent.there, grain, finest, alpha, mask, patch: own, repaired, detail }
  }

  #detailOf({ energy, patch, laid, lent }: Made): number | null {
    const { workspace, region } = this.job
    return energy && detailRatio(workspace, patch, energy, laid, nearHoles(lent.there, region.window.w))
  }

  /**
   * The same as far as it is looked at: the patch by itself, as it lies in the workspace.
   *
   * @param use must keep nothing of the patch @throws as repair
   */
  lend<T>(match: FrameMatch, use: (lent: LentFrame) => T): Promise<T> {
    const { window: rect } = this.job.region
    return this.#made(match, false, ({ target, alpha, mask, patch }) =>
      use({ rect, target, alpha, mask, patch }),
    )
  }

  /** @param isRaw whether the donors' light as it was shot is asked for @param use must keep nothing that lies in the workspace */
  async #made<T>(match: FrameMatch, isRaw: boolean, use: (made: Made) => T): Promise<T> {
    const { featherPx = FEATHER_PX, featherSide, addGrain: isGrained = true, membrane } = this.options
    const { region, workspace } = this.job
    const { window } = region
    const { inside } = region.frames.get(match.target)!
    const grainOf = isGrained ? await grainRound(this.job) : null
    const model = grainOf?.within ?? null
    const pace = paceFor(grainOf?.pace ?? null, this.candidate)
    // What is made changes as the region does.
    const made = paceFor(grainOf?.inside ?? null, this.candidate) ?? pace
    this.#noise ??= new MadeNoise(this.job, this.candidate, made)
    const noise = this.#noise
    const { blurPx } = await this.sharpness()
    const lenders = grainOf === null ? null : await this.#grainLenders(grainOf)
    const finest = model === null || lenders !== null ? null : await this.#finestLenders(model, pace)
    const lacking = model === null ? [] : this.#lackingOf(match, model, blurPx, lenders, finest, made)
    const tiles = tilesOver(inside, window.w)
    const held = workspace.hold()
    try {
      const isAsked = model !== null && isLacking(lacking, model)
      const asked = isAsked ? new DonorsDetail(workspace, window, tiles, held) : null
      const reading = seenTarget(this.job, match.target)
      // What fails is heard below, when nobody writes into what is held any more.
      reading.catch(() => {})
      const [{ map }, own] = [this.candidate, lenders === null ? asked : null]
      const rows = finest?.get(match.target) ?? null
      const mean = await blendLit(this.job, match, map, held, own, isRaw || membrane === true, rows)
      const grain = lenders?.at(match.target) ?? null
      const blended = grain === null ? mean : await this.#grainy(mean, grain, inside, asked)
      const seen = await reading
      const asSharp = blurPx > 0 ? blurredLent(blended, blurPx, model) : blended
      const lent = membrane ? await this.#closed(match, seen, blended, asSharp) : asSharp
      const { there } = lent
      const alpha = withoutHoles(featheredAlpha(inside, window.w, featherPx, featherSide), there)
      return workspace.within((scratch) => {
        // In the workspace, so that no kernel copies it in and out.
        const patch = frame(window.h, window.w, 3, scratch.laid(lent.matched.data))
        const laid = scratch.laid(alpha)
        const detail = model === null ? null : lent.detail
        const energy = detail && scratch.laid(detail.energy)
        if (model !== null && detail !== null && energy !== null)
          putBackGrain(
            workspace,
            patch,
            { ...lent, detail: { ...detail, energy } },
            model,
            lacking,
            (of) => noise.at(match.target, alpha.length, of.carried),
            { alpha, laid, tiles },
          )
        return use({ target: seen, mask: inside, lent, grain, finest: rows, alpha, laid, patch, energy })
      })
    } finally {
      held.release()
    }
  }

  /** @param lent as it is told by at the border; `asSharp` is what is closed */
  async #closed(match: FrameMatch, seen: Frame, lent: Blended, asSharp: Blended): Promise<Blended> {
    this.#border ??= new BorderOverTime(this.job, this.candidate)
    const membrane = await this.#border.membraneAt(match, seen, lent as BlendedAsShot)
    return membrane === null ? asSharp : underMembrane(asSharp, membrane)
  }

  #grainLenders(grain: PlateGrain): Promise<GrainLenders | null> {
    this.#lenders ??= grainLenders(this.job, this.candidate, grain)
    return this.#lenders
  }

  #finestLenders(model: GrainModel, pace: PlatePace | null): Promise<FinestLenders | null> {
    this.#finest ??= finestLenders(this.job, this.candidate, model, pace)
    return this.#finest
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
  #lackingOf(
    match: FrameMatch,
    model: GrainModel,
    blurPx: number,
    lenders: GrainLenders | null,
    finest: FinestLenders | null,
    pace: PlatePace | null,
  ): Lacking[] {
    const { frames, grain } = this.candidate
    const index = frames.findIndex((f) => f.target === match.target)
    const around = [frames[index - 1], frames[index + 1]].filter((f) => f !== undefined)
    const lendersAt = (one: FrameMatch): readonly Lender[] =>
      lenders === null
        ? (finest?.get(one.target) ?? lendersOf(one))
        : [{ ...lenders.at(one.target).share, weight: 1, isPaced: lenders.isPaced }]
    const shares = lendersAt(match)
    // A frame on which somebody begins to be held is treated as the one after it: it must not stand out by what it lacks.
    const goesOn = around.find((f) => lendersAt(f).some((one) => shares.some((s) => isSame(s, one))))
    const beside = index < 0 ? undefined : (goesOn ?? around[0])
    // Who lends on purpose what it lent before is held by nobody.
    const earlier = beside && lendersAt(beside).filter((s) => !s.isPaced)
    const { window } = this.job.region
    const under = blurPx > 0 ? blurResponse(blurPx) : null
    return (match.pieces ? shares.map((s) => [s]) : [shares]).map((of, piece) => {
      const name = lentAlike(of, earlier)
      const last = this.#lacked[piece]
      if (last?.name === name) return last.lacking
      const { kept, renewed } = lentGrain(model, of, earlier, window, grain)
      const lent = { kept: under === null ? kept : kept.map((v, i) => v * under[i]!), renewed }
      const lacking = lackingGrain(model, lent, pace ? moreThatChanges(pace) : 1)
      this.#lacked[piece] = { name, lacking }
      return lacking
    })
  }
}

/** 0 where nobody lends. */
function withoutHoles(alpha: Readonly<Float32Array>, there: Readonly<Uint8Array>): Readonly<Float32Array> {
  if (!hasHoles(there)) return alpha
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

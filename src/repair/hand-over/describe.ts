// A candidate and the way it was written, as patch.json tells it.
import { type FeatherSide, STRENGTH } from '../../defaults.js'
import type { Plate } from '../../footage/plate.js'
import type { Offset } from '../../raster/transform.js'
import { type Fade, fadesOf } from '../../search/borrow/fade.js'
import type { Candidate, FrameMatch } from '../../search/result.js'
import { version } from '../../version.js'
import type { FrameFinish, PatchFinish, WholeFinish } from '../finish/finish.js'
import type { DonorSharpness } from '../hide/donor-sharpness.js'
import type { SeenOfFrame } from '../hide/seen-of-frame.js'
import type { RepairJob } from '../repair.js'
import { framesToWrite } from '../write.js'
import type { Patch, PatchFrame } from './patch.js'
import { lenderOf, placed, sharesOf } from './shares.js'

/** What the frames in a folder are. */
export interface Written {
  readonly what: Patch['what']
  readonly format: Patch['format']
  readonly featherPx: number
  readonly featherSide: FeatherSide
  /** By which the candidate was moved by hand; its frames are where they were moved to. */
  readonly by?: Offset
  /** Of a patch: whether its border was closed. */
  readonly membrane?: boolean
  /** Of a patch: whether grain was put back. */
  readonly addGrain?: boolean
  /** Of a ratio. */
  readonly strength?: number
  readonly fade?: Fade
  /** Of a patch: how its donors' differs from the plate's. */
  readonly sharpness?: DonorSharpness
  /** Of a patch. */
  readonly finish?: PatchFinish
  readonly seen?: ReadonlyMap<number, SeenOfFrame>
}

/** @param names of the files, in the order of `framesToWrite` */
export function describePatch(
  job: RepairJob,
  candidate: Candidate,
  names: readonly string[],
  written: Written,
): Patch {
  const { result, target, donors, region } = job
  const { what, format, featherPx, featherSide, by, membrane, addGrain, fade, finish } = written
  const { strength = STRENGTH, sharpness, seen } = written
  const lifted = what === 'ratio' || what === 'borrowed'
  const frames = framesToWrite(job, candidate)
  const shares = lifted ? fadesOf(candidate, fade) : new Map<number, number>()
  const { mask, box, empty = [] } = result.region
  const filled = new Set(frames.map((f) => f.target))
  const { x, y, w, h } = region.window
  const { id, kind, timeOffset, verdict, why, moment } = candidate
  const reference = moment?.quietState?.map(({ plate, frame }) => ({ plate, frame }))
  return {
    schema: 'offcut.patch/1',
    version: version(),
    aim: result.aim,
    candidate: { id, kind, timeOffset, verdict, why },
    what,
    format,
    encoding: format === 'exr' ? 'linear' : target.encoding,
    alpha: what !== 'patch' ? null : format === 'exr' ? 'premultiplied' : 'straight',
    target: {
      plate: target.spec,
      first: result.target.first,
      last: result.target.last,
      ...sizeOf(target),
      framesPerSecond: target.info.framesPerSecond ?? null,
    },
    region: { mask, box, window: [x, y, w, h], feather: featherPx, featherSide },
    ...(by === undefined ? {} : { nudge: [by.dx, by.dy] }),
    ...(lifted ? { strength } : { membrane: membrane ?? false, regrain: addGrain ?? true }),
    ...(sharpness === undefined
      ? {}
      : { sharpness: { blur: rounded(sharpness.blurPx), softer: rounded(sharpness.softerPx) } }),
    ...(lifted && fade !== undefined ? { fade: [fade.in, fade.out] } : {}),
    ...(lifted && reference !== undefined ? { reference } : {}),
    donors: donors.map((plate) => ({
      plate: plate.spec,
      first: plate.first,
      last: plate.last,
      ...sizeOf(plate),
    })),
    black: [...empty],
    skipped: result.target.frames.filter((f) => !filled.has(f)),
    ...(finish === undefined ? {} : { check: checkOf(finish.whole) }),
    warnings: [],
    frames: frames.map(({ target: number, match }, i): PatchFrame => {
      const file = names[i]
      if (match === undefined) return { target: number, file, lent: [] }
      return {
        target: number,
        file,
        lent: sharesOf(match, seen?.get(number)?.finest),
        ...(lifted && match.quiet !== undefined
          ? { reference: { ...placed(match.quiet), gain: match.quiet.gain } }
          : {}),
        ...(lifted ? { strength: strength * shares.get(number)! } : {}),
        ...asSeen(match, seen?.get(number)),
        ...(finish?.frames.has(number) ? { check: checkOf(finish.frames.get(number)!) } : {}),
      }
    }),
  }
}

function asSeen(match: FrameMatch, seen: SeenOfFrame | undefined): Pick<PatchFrame, 'grain' | 'motionBlur'> {
  const { grain = null, motionBlur = null } = seen ?? {}
  return {
    ...(grain === null ? {} : { grain: { ...lenderOf(grain.share, match), strength: grain.strength } }),
    ...(motionBlur === null ? {} : { motionBlur }),
  }
}

/** JSON's lists are no tuples that stay as they are. */
function checkOf<T extends FrameFinish | WholeFinish>(finish: T) {
  return { ...finish, noise: finish.noise && ([...finish.noise] as [number, number, number]) }
}

function sizeOf({ width, height, encoding }: Plate) {
  return { width, height, encoding }
}

function rounded(px: number): number {
  return Number(px.toFixed(3))
}

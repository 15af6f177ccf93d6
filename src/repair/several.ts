// Several patches over one plate, laid one over the other in the order in which they are given.
import { join } from 'node:path'
import type { PatchFormat } from '../defaults.js'
import { readRect } from '../footage/plate.js'
import type { OnProgress } from '../progress.js'
import { type Frame, frame } from '../raster/frame.js'
import { cutSamples } from '../raster/plane.js'
import { type Rect, unite } from '../raster/rect.js'
import type { Candidate, FrameMatch } from '../search/result.js'
import type { PatchFinish } from './finish/finish.js'
import { FinishMeter } from './finish/meter.js'
import { withFootage } from './footage.js'
import type { GrainModel } from './grain/model.js'
import { provenanceOf } from './hand-over/provenance.js'
import type { DonorSharpness } from './hide/donor-sharpness.js'
import { type HiddenFrame, HidePass } from './hide/hide-pass.js'
import { grainBeside } from './hide/plate-grain.js'
import { type SeenOfFrame, seenOf } from './hide/seen-of-frame.js'
import { makeThenWrite } from './make-then-write.js'
import { laid as laidOver } from './over.js'
import type { RepairJob, RepairOptions } from './repair.js'
import { frameName, framesToWrite, type Laid, wholeEnding, writeLaid } from './write.js'

/** A candidate of a result; all results of a list are over one plate. */
export interface Layer {
  readonly job: RepairJob
  readonly candidate: Candidate
}

export interface SeveralOptions extends RepairOptions {
  readonly format?: PatchFormat
  readonly whole?: boolean
  readonly onProgress?: OnProgress
  readonly signal?: AbortSignal
}

export interface WrittenSeveral {
  /** Names by target frame, in order: of every frame that any of them fills. */
  readonly files: ReadonlyMap<number, string>
  /** Frames on which pixels are patched more than once, and how many. */
  readonly overlaps: readonly { readonly frame: number; readonly pixels: number }[]
  /** Largest code values of frames that are brighter than their PNG or TIFF can hold. */
  readonly clipped: ReadonlyMap<number, number>
  /** Of each layer, in their order. */
  readonly told: readonly Told[]
}

/** What was seen of a layer while it was made. Its finish is that of all layers together, where this one lies. */
interface Told {
  readonly finish: PatchFinish
  readonly sharpness: DonorSharpness
  readonly seen: ReadonlyMap<number, SeenOfFrame>
}

/**
 * Writes one sequence into an empty folder: patches over each other on the smallest window that holds all of them, or whole
 * frames with all of them laid over. Where two meet the later one lies on top, by its alpha (T. Porter, T. Duff, Compositing
 * Digital Images, 1984: over).
 *
 * @param layers of hides, the lowest first
 * @throws as writeCandidate
 */
export async function writeSeveral(
  layers: readonly Layer[],
  folder: string,
  options: SeveralOptions = {},
): Promise<WrittenSeveral> {
  // The footage of each is kept while all are made.
  const within = layers.reduceRight<() => Promise<WrittenSeveral>>(
    (work, { job, candidate }) =>
      () =>
        withFootage(job, [candidate], options, work),
    () => writeAll(layers, folder, options),
  )
  return within()
}

interface Making {
  readonly layer: Layer
  readonly pass: HidePass
  readonly meter: FinishMeter
  readonly model: GrainModel | null
  readonly seen: Map<number, SeenOfFrame>
  readonly matches: ReadonlyMap<number, FrameMatch | undefined>
}

async function writeAll(
  layers: readonly Layer[],
  folder: string,
  { format = 'exr', whole = false, onProgress, signal, ...repair }: SeveralOptions,
): Promise<WrittenSeveral> {
  const { target } = layers[0]!.job
  const making = await Promise.all(
    layers.map(async (layer): Promise<Making> => {
      const { job, candidate } = layer
      const matches = new Map(framesToWrite(job, candidate).map((f) => [f.target, f.match]))
      const [meter, model] = [await FinishMeter.over(job), await grainBeside(job)]
      return {
        layer,
        pass: new HidePass(job, candidate, repair),
        meter,
        model,
        seen: new Map(),
        matches,
      }
    }),
  )
  const window = layers.map(({ job }) => job.region.window).reduce(unite)
  const frames = [...new Set(making.flatMap((m) => [...m.matches.keys()]))].sort((a, b) => a - b)
  const ending = whole ? wholeEnding(target) : format
  const nameOf = (number: number) => frameName(target, number, whole ? 'repaired' : 'patch', ending)
  const overlaps: { frame: number; pixels: number }[] = []
  const clipped = new Map<number, number>()
  let done = 0
  await makeThenWrite(
    frames,
    async (number) => {
      signal?.throwIfAborted()
      const made: { readonly own: HiddenFrame; readonly of: Making }[] = []
      for (const of of making) {
        const match = of.matches.get(number)
        if (match === undefined) continue
        const own = await of.pass.repair(match)
        made.push({ own, of })
        const { job, candidate } = of.layer
        of.seen.set(number, seenOf(job, candidate, match, own, of.model))
      }
      const under = await readRect(target, number, window)
      const { laid, overlap } = composed(
        made.map(({ own }) => own),
        window,
        under,
      )
      for (const { own, of } of made)
        of.meter.add(number, { ...own, repaired: cutFrame(laid.repaired, window, own.rect) })
      if (overlap > 0) overlaps.push({ frame: number, pixels: overlap })
      return laid
    },
    async (laid, number) => {
      const strings = joined(
        making
          .filter(({ matches }) => matches.get(number) !== undefined)
          .map(({ layer, matches }) => provenanceOf(layer.job, layer.candidate, matches.get(number))),
      )
      const path = join(folder, nameOf(number))
      const most = await writeLaid(target, number, laid, path, { whole, format, strings })
      if (most > 1) clipped.set(number, most)
      onProgress?.({ phase: 'writing', done: ++done, total: frames.length })
    },
  )
  signal?.throwIfAborted()
  const told: Told[] = []
  for (const { pass, meter, seen } of making)
    told.push({ finish: meter.done(), sharpness: await pass.sharpness(), seen })
  const files = new Map(frames.map((number) => [number, nameOf(number)]))
  overlaps.sort((a, b) => a.frame - b.frame)
  return { files, overlaps, clipped: new Map([...clipped].sort(([a], [b]) => a - b)), told }
}

function cutFrame({ data }: Frame, from: Rect, part: Rect): Frame {
  return frame(part.h, part.w, 3, cutSamples(data, from, part, 3))
}

/**
 * Patches over each other.
 *
 * @param under the plate over `window`, linear RGB
 * @returns one patch over `window`, and how many pixels are patched more than once
 */
export function composed(
  made: readonly Laid[],
  window: Rect,
  under: Frame,
): { readonly laid: Laid; readonly overlap: number } {
  const patch = frame(window.h, window.w, 3)
  const repaired = frame(window.h, window.w, 3, under.data.slice())
  const alpha = new Float32Array(window.w * window.h)
  const times = new Uint8Array(alpha.length)
  for (const { rect, patch: upper, alpha: over } of made) {
    for (let y = 0, i = 0; y < rect.h; y++) {
      let to = (rect.y - window.y + y) * window.w + rect.x - window.x
      for (let x = 0; x < rect.w; x++, i++, to++) {
        const a = over[i]!
        if (a === 0) continue
        times[to]!++
        const below = alpha[to]!
        alpha[to] = a + (1 - a) * below
        for (let c = 0; c < 3; c++) {
          const own = upper.data[3 * i + c]!
          const at = 3 * to + c
          // Straight colour of what lies over each other; the plate shows through what is left of both.
          patch.data[at] =
            a === 1 || below === 0 ? own : (a * own + (1 - a) * below * patch.data[at]!) / alpha[to]!
          repaired.data[at] = laidOver(a, own, repaired.data[at]!)
        }
      }
    }
  }
  let overlap = 0
  for (const n of times) if (n > 1) overlap++
  return { laid: { rect: window, patch, repaired, alpha }, overlap }
}

/** What all have in common once, the rest one after the other. */
function joined(all: readonly Readonly<Record<string, string>>[]): Record<string, string> {
  const out: Record<string, string> = {}
  for (const key of new Set(all.flatMap((of) => Object.keys(of))))
    out[key] = [...new Set(all.flatMap((of) => of[key] ?? []))].join('; ')
  return out
}

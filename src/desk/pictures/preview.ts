// What a patch would show on one frame: made by the same passes as the patch, on the same footage, frame by frame.
import { stat } from 'node:fs/promises'
import { join } from 'node:path'
import { readRect } from '../../footage/plate.js'
import type { Frame } from '../../raster/frame.js'
import type { Rect } from '../../raster/rect.js'
import { HidePass } from '../../repair/hide/hide-pass.js'
import { LightingPass } from '../../repair/lighting/lighting-pass.js'
import { type PatchSettings, settingsOf } from '../../repair/patch-settings.js'
import { openRepair, pick, type RepairJob } from '../../repair/repair.js'
import type { FrameMatch } from '../../search/result.js'
import { readResult } from '../../search/result-file.js'
import { notFound } from '../refused.js'
import type { PatchAsked } from '../shot-state.js'

export interface PreviewAsked {
  /** Of the result, absolute. */
  readonly folder: string
  readonly candidate: string
  readonly frame: number
  readonly patch: PatchAsked
}

export interface Preview {
  /** Of the plate: the region with its surround. */
  readonly rect: Rect
  /** Linear light. */
  readonly picture: Frame
  readonly job: RepairJob
}

type Repair = (match: FrameMatch) => Promise<{ readonly repaired: Frame }>

/** The result that is looked at, and the candidate as it is set. */
let open: { readonly key: string; readonly job: RepairJob } | undefined
let pass: { readonly key: string; readonly repair: Repair } | undefined

/** One at a time. @throws as readResult, openRepair, settingsOf and the passes; Refused 404 where it fills no such frame */
export async function previewOf({ folder, candidate: id, frame, patch }: PreviewAsked): Promise<Preview> {
  const { mtimeMs } = (await stat(join(folder, 'result.json')).catch(() => null)) ?? {}
  const key = JSON.stringify([folder, mtimeMs])
  if (open?.key !== key) {
    open?.job.close()
    open = undefined
    pass = undefined
    open = { key, job: await openRepair((await readResult(folder)).result) }
  }
  const { job } = open
  const picked = pick(job.result, id)
  const { window: rect } = job.region
  if (job.result.region.empty?.includes(frame))
    return { rect, picture: await readRect(job.target, frame, rect), job }
  const match = picked.frames.findIndex(({ target }) => target === frame)
  if (match < 0) throw notFound(`${id} does not fill frame ${frame}`)
  const wanted = JSON.stringify([id, patch])
  const settings = settingsOf(job, picked, wishesOf(patch))
  if (pass?.key !== wanted) pass = { key: wanted, repair: passOf(job, settings) }
  const { repaired } = await pass.repair(settings.candidate.frames[match]!)
  return { rect, picture: repaired, job }
}

function passOf(job: RepairJob, settings: PatchSettings): Repair {
  const { candidate, ratio, featherPx, featherSide, membrane, addGrain, strength, fade } = settings
  if (!ratio) {
    const hide = new HidePass(job, candidate, { featherPx, featherSide, membrane, addGrain })
    return (match) => hide.repair(match)
  }
  const lighting = new LightingPass(job, candidate)
  return (match) => lighting.lift(match, { strength, featherPx, featherSide, fade })
}

/** As the command line would have it; a picture has no format. */
function wishesOf({ feather, featherSide, nudge, strength, fade, format: _, ...others }: PatchAsked) {
  return {
    ...others,
    featherSide: featherSide ?? 'outside',
    ...(feather === null ? {} : { feather }),
    ...(nudge === null ? {} : { nudge: { dx: nudge[0], dy: nudge[1] } }),
    ...(strength === null ? {} : { strength }),
    ...(fade === null ? {} : { fade: { in: fade[0], out: fade[1] } }),
  } as const
}

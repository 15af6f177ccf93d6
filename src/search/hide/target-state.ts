// Footage that looks otherwise round the target than for most of its length: the focus was pulled, a light was switched. Then what
// most frames agree on is no picture to know the empty region by. The surround tells, on which nobody has to go.

import type { Workspace } from '../../kernels/workspace.js'
import { explainedSpread, markDirty, visibleSpread } from '../../match/clean.js'
import { cleanPlateSteps } from '../../match/clean-plate.js'
import { INVALID } from '../../match/log-luminance.js'
import { indicesOf, subsample } from '../../match/subsample.js'
import type { Region } from '../../region/region.js'
import type { Steps } from '../../turns.js'
import { EMPTY_FRAMES, matchLight, type Registered, type Registration } from '../register.js'
import { isAgreedOn, regionState } from './region-state.js'

/** Where less of the surround is otherwise on all target frames, next to nothing tells of another state. */
const MIN_OTHERWISE = 0.05
/** Frames are in the target's state where at most this share of that differs from it: a passer-by may hide some. */
const ALIKE = 1 / 3
/** Fewer of them teach nothing. */
const MIN_FRAMES = 8

export interface TargetState {
  /** With the clean plate of the frames that are in the target's state. */
  readonly registration: Registration
  /** Said to the user. */
  readonly note: string
}

/**
 * The registration by the frames whose surround looks as on the target frames, where that of most does not; null where the target
 * frames look as the plate does as a rule, or too few others look like them.
 *
 * @param targets in order of their frames
 */
export function* targetState(
  workspace: Workspace,
  registration: Registration,
  region: Region,
  targets: readonly Registered[],
): Steps<TargetState | null> {
  const { cleanPlate, window, frames, minSpread, carried } = registration
  const middle = targets[targets.length >> 1]
  const { surround } = region.frames.get(middle.frame)!
  const spread = visibleSpread(cleanPlate.level, explainedSpread(cleanPlate, surround, minSpread))
  const marks = new Uint8Array(surround.length)
  const mark = (
    f: Registered,
    level: Readonly<Float32Array>,
    light: number,
    within: Readonly<Float32Array>,
  ) =>
    markDirty(
      workspace,
      { aligned: f.aligned, validity: seen(f), exposure: f.exposure - light, level, spread: within },
      window.w,
      marks,
    )
  const ring = indicesOf(surround)
  let telling = ring
  for (const target of targets) {
    mark(target, cleanPlate.level, 0, spread)
    // Who passes is elsewhere on the next frame.
    telling = otherwiseOn(telling, marks, seen(target))
    if (telling.length < MIN_OTHERWISE * ring.length) return null
  }
  const ofBoth = spread.map((s) => s * Math.SQRT2)
  const isTarget = new Set(targets)
  const alike: Registered[] = []
  for (const f of frames) {
    if (isTarget.has(f) || !f.held) continue
    yield
    mark(f, middle.aligned, middle.exposure, ofBoth)
    if (shareOf(marks, telling) <= ALIKE) alike.push(f)
  }
  if (alike.length < MIN_FRAMES || !isAgreedOn(alike.length, frames.length)) return null
  const some = subsample(alike, EMPTY_FRAMES)
  const own = yield* cleanPlateSteps(workspace, some, surround.length, minSpread, carried)
  for (const target of targets) {
    mark(target, own.level, 0, spread)
    if (shareOf(marks, telling) > ALIKE) return null
  }
  const inState = { ...registration, cleanPlate: own, inState: new Set([...alike, ...targets]) }
  const { unknown, doubt } = yield* regionState(workspace, inState, region, targets)
  if (unknown !== null || doubt !== null) return null
  yield* matchLight(workspace, frames, own.level, surround)
  return {
    registration: inState,
    note: `the plate looks otherwise for most of its length than on the target frames: what ${alike.length} frames that look like them show is taken for empty`,
  }
}

function seen({ shown, validity }: Registered): Readonly<Uint8Array> {
  return shown ?? validity
}

/** The places that are marked and good. */
function otherwiseOn(
  places: Int32Array,
  marks: Readonly<Uint8Array>,
  good: Readonly<Uint8Array>,
): Int32Array {
  return places.filter((i) => marks[i] === 1 && good[i] !== INVALID)
}

function shareOf(marks: Readonly<Uint8Array>, places: Readonly<Int32Array>): number {
  let marked = 0
  for (let k = 0; k < places.length; k++) marked += marks[places[k]]
  return marked / places.length
}

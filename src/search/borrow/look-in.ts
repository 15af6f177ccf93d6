// Hunting on another surface than the region: where it lies, and the 2D offset that carries it onto the region.
import type { MaskFit } from '../../defaults.js'
import { misuse } from '../../errors.js'
import type { Plate } from '../../footage/plate.js'
import { resample } from '../../kernels/resample.js'
import type { Workspace } from '../../kernels/workspace.js'
import { align, HELD_SIGMA } from '../../match/align.js'
import { logLuminance, VALID } from '../../match/log-luminance.js'
import { weightedNcc } from '../../match/ncc.js'
import { prepareReference } from '../../match/reference.js'
import { type Plane, plane } from '../../raster/plane.js'
import { intersect, isEmpty, type Rect } from '../../raster/rect.js'
import { type Offset, shift } from '../../raster/transform.js'
import { boxMask, cutMask, loadMasks, type Mask, trimmed } from '../../region/mask.js'
import { everyInside, makeRegion, type Region } from '../../region/region.js'
import { readOneHalf } from '../../track/read-frames.js'

export interface Look {
  /** Where moments are hunted; for every target frame the same weights. */
  readonly region: Region
  /** Moves the searched surface onto the region, before it is refined. */
  readonly carry: Offset
  /** The searched surface where it is not the region itself. */
  readonly box: Rect | null
  /** True where alignment may refine the carry: it was not given by hand. */
  readonly refine: boolean
}

/** The two surfaces must correlate this well, or they share no structure that an offset could be refined by. */
const SHARED_NCC = 0.5

/**
 * @param lookIn another surface: a mask, or a box
 * @param offset by hand: moves what is borrowed onto the region; alone it also says where to look
 * @throws MISUSE where the moved region leaves the plate; as loadMasks and makeRegion
 */
export async function lookOf(
  region: Region,
  plate: Plate,
  surroundPx: number,
  { lookIn, offset, maskFit }: { lookIn?: string | Rect; offset?: Offset; maskFit: MaskFit },
): Promise<Look> {
  const frames = [...region.frames.keys()]
  const everyFrame = (mask: Mask) => makeRegion(new Map(frames.map((f) => [f, mask])), plate, surroundPx)
  if (lookIn === undefined) {
    const inside = everyInside(region)
    if (offset === undefined) {
      const mask = { rect: region.window, data: inside }
      return { region: everyFrame(trimmed(mask)), carry: { dx: 0, dy: 0 }, box: null, refine: false }
    }
    const moved = movedMask({ rect: region.window, data: inside }, offset, plate)
    const left = trimmed(moved)
    if (isEmpty(left.rect))
      throw misuse('`offset`', 'dx,dy that leave a part of the region inside the plate', 'none of it')
    const there = everyFrame(left)
    return { region: there, carry: offset, box: there.box, refine: false }
  }
  const mask =
    typeof lookIn === 'string'
      ? [...(await loadMasks(lookIn, plate, frames, maskFit)).values()].find((m) => !isEmpty(m.rect))!
      : boxMask(lookIn, plate, '`lookIn`')
  const there = everyFrame(mask)
  const { box } = region
  // Middle onto middle, in whole pixels: nothing is resampled where nothing can be refined.
  const carry = offset ?? {
    dx: Math.round(box.x + box.w / 2 - there.box.x - there.box.w / 2),
    dy: Math.round(box.y + box.h / 2 - there.box.y - there.box.h / 2),
  }
  return { region: there, carry, box: there.box, refine: offset === undefined }
}

/**
 * Refines the carry by the structure that both surfaces show; where they share none it stays as it is.
 *
 * @param level  the searched surface's reference state over `window`, log2 luminance
 * @param pose   of the target frame on the searched surface's grid
 */
export async function refineCarry(
  workspace: Workspace,
  look: Look,
  region: Region,
  level: Readonly<Float32Array>,
  plate: Plate,
  frame: number,
  pose: Offset,
  { reachPx, clip }: { reachPx: number; clip: number },
): Promise<{ carry: Offset; refined: boolean }> {
  const { window } = region
  const seen = logLuminance(workspace, await readOneHalf(plate, frame, window), window, clip)
  const { inside, surround } = region.frames.get(frame)!
  const weight = inside.map((v, i) => (seen.validity[i] === VALID && (v > 0 || surround[i] > 0) ? 1 : 0))
  const from = look.region.window
  // The searched surface, put where the carry takes it.
  const carried: Plane = {
    x: from.x + look.carry.dx,
    y: from.y + look.carry.dy,
    width: from.w,
    height: from.h,
    data: Float32Array.from(level),
  }
  onlyWhereCarried(weight, window, carried, reachPx)
  const found = align(workspace, prepareReference(workspace, seen.log, weight, reachPx), carried, reachPx)
  if (found === null || found.sigma > HELD_SIGMA) return { carry: look.carry, refined: false }
  const moved = plane(window.x, window.y, window.w, window.h)
  resample(workspace, carried, shift(found.dx, found.dy), moved)
  if ((weightedNcc(workspace, seen.log.data, moved.data, weight) ?? 0) < SHARED_NCC)
    return { carry: look.carry, refined: false }
  return {
    carry: { dx: look.carry.dx + found.dx + pose.dx, dy: look.carry.dy + found.dy + pose.dy },
    refined: true,
  }
}

/** Pixels that the carried surface can't reach, with room for the reach, are left out. */
function onlyWhereCarried(weight: Float32Array, window: Rect, carried: Plane, reachPx: number): void {
  for (let y = 0, i = 0; y < window.h; y++) {
    for (let x = 0; x < window.w; x++, i++) {
      const u = window.x + x - carried.x
      const v = window.y + y - carried.y
      if (u < reachPx || v < reachPx || u >= carried.width - reachPx || v >= carried.height - reachPx)
        weight[i] = 0
    }
  }
}

function movedMask({ rect, data }: Mask, { dx, dy }: Offset, plate: Plate): Mask {
  const x = rect.x - Math.round(dx)
  const y = rect.y - Math.round(dy)
  const there = intersect({ x, y, w: rect.w, h: rect.h }, plate.active)
  if (isEmpty(there)) {
    throw misuse(
      '`offset`',
      `dx,dy that start inside the plate's ${plate.width} x ${plate.height}`,
      `${dx},${dy}`,
    )
  }
  return cutMask(data, rect.w, { ...there, x: there.x - x, y: there.y - y }, there)
}

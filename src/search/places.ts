// Other places of a frame that look as the region's surround does: a piece of the same wall further left, the next window.
// Every place is compared at once; the best that lie apart are looked into as if each were another take.
import type { Plate } from '../footage/plate.js'
import { smooth } from '../kernels/pyramid.js'
import type { Workspace } from '../kernels/workspace.js'
import { Fourier } from '../match/fourier.js'
import { layPlanar } from '../match/planar.js'
import { planarDonor, preparePlanar } from '../match/planar-picture.js'
import { cutPlane } from '../raster/plane.js'
import { apply, invert, type Offset, shift, shiftOf } from '../raster/transform.js'
import { type Region, type RegionFrame, support } from '../region/region.js'
import { type SmallFrame, smallFrames } from '../track/camera/small-frame.js'

/** Places that are looked into, at most. */
const MAX_PLACES = 6
/** Of places that differ from the surround by up to this much more than the best does, all are looked into. */
const AS_GOOD = 3
/** Differences below this, stops, are all as good. */
const MIN_STOPS = 0.01
/** The least differences that are looked at: those at the frame's edge show only part of the region. */
const MAX_TRIES = 200
/** Share of the surround that must be seen at the other place. */
const MIN_SHARED = 0.7

/**
 * @param frame a target frame, whose region is hidden
 * @returns best first, each the 2D offset that brings the place to the region, pixels
 */
export async function placesLike(
  workspace: Workspace,
  plate: Plate,
  frame: number,
  region: Region,
  mask: RegionFrame,
): Promise<Offset[]> {
  for await (const small of smallFrames(workspace, plate, [frame]))
    return placesIn(workspace, small, region, mask)
  return []
}

function placesIn(
  workspace: Workspace,
  small: SmallFrame,
  { window, box }: Region,
  mask: RegionFrame,
): Offset[] {
  const factor = small.toPlate[0]
  const picture = smooth(workspace, small.picture)
  const { width, height } = picture
  const plateToSmall = invert(small.toPlate)
  const from = apply(plateToSmall, window.x, window.y)
  const rect = {
    x: Math.max(0, Math.round(from.x)),
    y: Math.max(0, Math.round(from.y)),
    w: Math.floor(window.w / factor),
    h: Math.floor(window.h / factor),
  }
  rect.w = Math.min(rect.w, width - rect.x)
  rect.h = Math.min(rect.h, height - rect.y)
  const at = (of: Readonly<Float32Array | Uint8Array>, x: number, y: number): number => {
    const p = apply(small.toPlate, x, y)
    const [u, v] = [Math.round(p.x) - window.x, Math.round(p.y) - window.y]
    return u >= 0 && v >= 0 && u < window.w && v < window.h ? of[v * window.w + u] : 0
  }
  const covered = support(mask.inside)
  const seen = Uint8Array.from(small.known)
  const ring = new Uint8Array(rect.w * rect.h)
  const inside: [x: number, y: number][] = []
  for (let y = 0, i = 0; y < rect.h; y++)
    for (let x = 0; x < rect.w; x++, i++) {
      const [u, v] = [x + rect.x, y + rect.y]
      ring[i] = at(mask.surround, u, v) > 0 && small.known[v * width + u] === 1 ? 1 : 0
      if (at(covered, u, v) === 0) continue
      inside.push([u, v])
      seen[v * width + u] = 0
    }
  const fourier = Fourier.forPictures(width + rect.w, height + rect.h)
  const template = fourier.spectraOf({ ...cutPlane(picture, rect), x: 0, y: 0 }, ring)
  const whole = fourier.spectraOf(picture, seen)
  const count = ring.reduce((n, v) => n + v, 0)
  const differences = fourier.differ(template, whole, MIN_SHARED * count)
  // Two places that share most of the region are one.
  const apart = Math.max(4, Math.min(box.w, box.h) / factor / 2)
  const found: { dx: number; dy: number; differs: number }[] = []
  const offsetOf = (i: number) => {
    const [x, y] = [i % fourier.width, Math.floor(i / fourier.width)]
    // Of the template's corner, so that of the whole frame is by so much more.
    return {
      dx: (x <= rect.w ? x : x - fourier.width) + rect.x,
      dy: (y <= rect.h ? y : y - fourier.height) + rect.y,
    }
  }
  // So near to itself it would lend what is hidden.
  const [near, low] = [box.w / factor, box.h / factor]
  for (let i = 0; i < differences.length; i++) {
    const { dx, dy } = offsetOf(i)
    if (Math.abs(dx) < near && Math.abs(dy) < low) differences[i] = Number.POSITIVE_INFINITY
  }
  for (let tries = 0; tries < MAX_TRIES && found.length < MAX_PLACES; tries++) {
    let best = 0
    for (let i = 1; i < differences.length; i++) if (differences[i] < differences[best]) best = i
    const differs = differences[best]
    if (!Number.isFinite(differs)) break
    if (found.length > 0 && differs > AS_GOOD * Math.max(found[0].differs, MIN_STOPS)) break
    const { dx, dy } = offsetOf(best)
    const shown = inside.every(([u, v]) => {
      const [sx, sy] = [u - dx, v - dy]
      return sx >= 0 && sy >= 0 && sx < width && sy < height && seen[sy * width + sx] === 1
    })
    if (shown) found.push({ dx, dy, differs })
    const around = Math.ceil(shown ? apart : 1)
    for (let y = -around; y <= around; y++)
      for (let x = -around; x <= around; x++) {
        const v = (Math.floor(best / fourier.width) + y + fourier.height) % fourier.height
        const u = ((best % fourier.width) + x + fourier.width) % fourier.width
        differences[v * fourier.width + u] = Number.POSITIVE_INFINITY
      }
  }
  // Between whole pixels, as far as the surround tells.
  const reference = preparePlanar(workspace, cutPlane(small.picture, rect), Float32Array.from(ring))
  const donor = reference && planarDonor(workspace, small.picture, seen, reference.knee)
  return found.map(({ dx, dy }) => {
    const laid = reference && layPlanar(reference, donor!, shift(dx, dy), 'shift', { coarsest: 0 })
    const fine = laid === null ? { dx, dy } : shiftOf(laid.transform, rect)
    const near = Math.hypot(fine.dx - dx, fine.dy - dy) < 2 ? fine : { dx, dy }
    return { dx: factor * near.dx, dy: factor * near.dy }
  })
}

// What a result says of the shot it is about, before any candidate.
import { activeNote } from '../footage/active.js'
import { parseFrames, printFrames } from '../footage/frames.js'
import type { Plate } from '../footage/plate.js'
import type { Rect } from '../raster/rect.js'
import type { Offset } from '../raster/transform.js'
import { type FrameKey, framesOf } from '../shot/frame-key.js'
import type { Shot, ShotRequest } from '../shot/open-shot.js'
import type { Result } from './result.js'

/** Target, region, reach and donors, in the order in which result.json has them; a borrow's own entry stands between. */
/** @param places see LaidShot */
export function resultHead(
  { request, plates, frames, donors, maskFit, region, reach, surround }: Shot,
  places: readonly (Offset | null)[] = [],
): {
  about: Pick<Result, 'target' | 'region'>
  hunted: Pick<Result, 'reach' | 'donors'>
} {
  const [target] = plates
  const layer = request.layer === undefined ? {} : { layer: request.layer }
  return {
    about: {
      target: {
        plate: target.spec,
        first: frames[0],
        last: frames[frames.length - 1],
        frames: [...frames],
        width: target.width,
        height: target.height,
        encoding: target.encoding,
        encodingWhy: target.encodingWhy,
        ...layer,
        ...activeIn(target),
      },
      region: {
        mask: request.mask ?? null,
        maskFit,
        box: sidesOf(region.box),
        ...grownBy(request),
        ...(request.maskAt === undefined ? {} : { at: request.maskAt }),
        surround,
        ...(request.avoid === undefined ? {} : { avoid: request.avoid }),
        ...(region.empty.length === 0 ? {} : { empty: [...region.empty] }),
      },
    },
    hunted: {
      reach,
      donors: plates.map((p, plate) => ({
        plate: p.spec,
        first: p.first,
        last: p.last,
        frames: p.frames.length,
        ...(isNarrowed(request) ? { asked: framesOf(donors, plate) } : {}),
        ...sizeBeside(target, p),
        encoding: p.encoding,
        ...layer,
        ...activeIn(p),
        ...placeOf(places[plate] ?? null),
      })),
    },
  }
}

function sizeBeside(target: Plate, { width, height }: Plate): Pick<Result['donors'][number], 'size'> {
  return width === target.width && height === target.height ? {} : { size: [width, height] }
}

function placeOf(place: Offset | null): { place?: [number, number] } {
  return place === null ? {} : { place: [place.dx, place.dy] }
}

function isNarrowed({ donorFrames, notFrames }: ShotRequest): boolean {
  return donorFrames !== undefined || notFrames !== undefined
}

/** By how much the region is grown, and from which box; nothing where it is as it was given. */
function grownBy({ grow = 0, box }: ShotRequest): Pick<Result['region'], 'grow' | 'drawn'> {
  if (grow === 0) return {}
  return box === undefined ? { grow } : { grow, drawn: sidesOf(box) }
}

function sidesOf({ x, y, w, h }: Rect): [number, number, number, number] {
  return [x, y, w, h]
}

/** What is to be said of the footage and the mask, and of frames that can't be read. */
export function shotNotes({ plates, region, request }: Shot, unreadable: readonly Unreadable[]): string[] {
  return [
    ...namedInVain(plates, request),
    ...ratesApart(plates),
    ...plates.flatMap(activeNote),
    ...region.notes,
    ...plates.flatMap((_, plate) => leftOut(unreadable.filter((u) => u.plate === plate))),
  ]
}

type Unreadable = FrameKey & { readonly message: string }

/** In one sentence for a plate: after a render that broke off there may be dozens. @param unreadable ascending */
function leftOut([first, ...others]: readonly Unreadable[]): string[] {
  if (first === undefined) return []
  const too =
    others.length === 0
      ? ''
      : `; so ${others.length === 1 ? 'is' : 'are'} ${printFrames(others.map((u) => u.frame))}, which can't be read either`
  return [`${first.message} (left out of the search${too})`]
}

/** Frames that may lend, or may not, by the request, and are in no plate. */
function namedInVain(plates: Shot['plates'], { donorFrames, notFrames }: ShotRequest): string[] {
  const there = new Set(plates.flatMap(({ frames }) => frames))
  return [
    ['to lend', donorFrames],
    ['not to lend', notFrames],
  ].flatMap(([what, asked]) => {
    if (asked === undefined) return []
    const numbers = typeof asked === 'string' ? parseFrames(asked) : asked
    const absent = numbers.filter((f) => !there.has(f))
    if (absent.length === 0) return []
    return [`of the frames named ${what} no plate has ${printFrames(absent)}`]
  })
}

/** Shown frame for frame, what moves in a plate of another rate does so faster or slower. */
function ratesApart([target, ...others]: Shot['plates']): string[] {
  const rate = target.info.framesPerSecond
  return others.flatMap(({ name, info: { framesPerSecond: own } }) =>
    rate === undefined || own === undefined || Math.abs(own / rate - 1) < SAME_RATE
      ? []
      : [
          `the donor plate ${name} runs at ${shown(own)} frames a second, the target's at ${shown(rate)}: in a run or mirror of it all that moves by itself has another speed`,
        ],
  )
}

/** 24000 / 1001 and 23.976 are one rate, 24 is another. */
const SAME_RATE = 5e-4

function shown(rate: number): string {
  return String(Number(rate.toFixed(3)))
}

/** What of a plate's frame holds picture, where that is not all of it. */
function activeIn({ active, width, height }: Plate): { active?: [number, number, number, number] } {
  const { x, y, w, h } = active
  return w === width && h === height ? {} : { active: [x, y, w, h] }
}

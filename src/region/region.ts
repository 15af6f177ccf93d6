// A mask made into a region: its weights inside, the ring of valid pixels round it, and the feather of a patch.
import { type FeatherSide, SURROUND_PX } from '../defaults.js'
import { OffcutError, option } from '../errors.js'
import { printFrames } from '../footage/frames.js'
import { cutSamples } from '../raster/plane.js'
import { contains, grow, intersect, isEmpty, type Rect } from '../raster/rect.js'
import { MadeOnDemand } from './made-on-demand.js'
import { type Mask, unionBox } from './mask.js'

/** Pixels next to the mask that are not valid: a mask's edge is drawn on the thing it hides, blur and all. */
export const GUARD_PX = 2
/** A mask pixel covered by this much belongs to the core that a feather grows from. */
const CORE = 0.5
/** A mask that is nowhere whiter lets the plate show through where nobody means it to: rounding alone takes less. */
const NEARLY_WHITE = 0.98
/** A surround of fewer pixels judges nothing. */
const MIN_SURROUND = 64
/** Weights that are kept at once, bytes: of a window of 500 x 500 pixels those of 67 masks. */
const MAX_WEIGHT_BYTES = 128 * 2 ** 20

export interface RegionFrame {
  /** 0 to 1 over the window: how much of each pixel is to be replaced. */
  readonly inside: Float32Array
  /** 1 on the surround, 0 elsewhere, over the window. */
  readonly surround: Float32Array
}

export interface Region {
  /** Smallest rectangle round the mask over all target frames, plate pixels. */
  readonly box: Rect
  /** The box grown by the surround, cut to the frame: where donors are compared. */
  readonly window: Rect
  readonly surroundPx: number
  /** Weights per target frame with a mask, made when they are asked for; frames with one still mask share the object. */
  readonly frames: ReadonlyMap<number, RegionFrame>
  /** What they are made of; absent where the regions of several results are united. */
  readonly masks?: ReadonlyMap<number, Mask>
  /** Frames whose mask is black: nothing is to be replaced there, so they are passed over. */
  readonly empty: readonly number[]
  /** Said to the user: sides without surround, frames without mask. */
  readonly notes: readonly string[]
}

/**
 * @param asked masks; what of them lies outside the plate's active part is left out
 * @throws REGION_WHOLE where the mask leaves no pixel of the plate to judge a donor by; REGION_VOID where it covers none
 */
export function makeRegion(
  asked: ReadonlyMap<number, Mask>,
  plate: { readonly width: number; readonly height: number; readonly active?: Rect },
  surroundPx: number = SURROUND_PX,
): Region {
  const full: Rect = plate.active ?? { x: 0, y: 0, w: plate.width, h: plate.height }
  const given = unionBox(asked.values())
  const masks = onPicture(asked, full)
  const box = unionBox(masks.values())
  if (isEmpty(box) && !isEmpty(given)) {
    throw new OffcutError(
      'REGION_VOID',
      `the mask lies at ${sized(given)}, where the plate shows nothing: its picture fills ${sized(full)}; move the mask onto it`,
      2,
    )
  }
  const window = intersect(grow(box, surroundPx + GUARD_PX), full)
  const covering = new Map([...masks].filter(([, { rect }]) => !isEmpty(rect)))
  const empty = [...masks.keys()].filter((frame) => !covering.has(frame))
  const frames = weightsOf(covering, window, surroundPx)
  const counted = new Set<Mask>()
  for (const [frame, mask] of covering) {
    if (counted.has(mask)) continue
    counted.add(mask)
    const pixels = count(frames.get(frame)!.surround)
    if (pixels >= MIN_SURROUND) continue
    const around = grow(mask.rect, surroundPx + GUARD_PX)
    const room = !contains(around, full) ? ` or ${option('surround')} (${surroundPx}) wider` : ''
    throw new OffcutError(
      'REGION_WHOLE',
      `the mask of frame ${frame} leaves ${pixels} pixels of surround in a plate of ${plate.width} x ${plate.height}: donors are judged by what lies round it; make the mask smaller${room}`,
      2,
    )
  }
  const said = notes(asked, empty, given, full, plate)
  return { box, window, surroundPx, frames, masks: covering, empty, notes: said }
}

/** The weights of masks over a window. */
export function weightsOf(
  masks: ReadonlyMap<number, Mask>,
  window: Rect,
  surroundPx: number,
): MadeOnDemand<Mask, RegionFrame> {
  const bytes = 2 * Float32Array.BYTES_PER_ELEMENT * window.w * window.h
  return new MadeOnDemand(masks, (mask) => weigh(mask, window, surroundPx), MAX_WEIGHT_BYTES / bytes)
}

/** The region with frames on which nothing is to be replaced among its others: their weights are 0. */
export function withEmpty(region: Region): Region {
  const nothing: Mask = { rect: NOWHERE, data: new Float32Array(0) }
  const masks = new Map([...region.masks!, ...region.empty.map((frame) => [frame, nothing] as const)])
  return { ...region, masks, frames: weightsOf(masks, region.window, region.surroundPx), empty: [] }
}

const NOWHERE: Rect = { x: 0, y: 0, w: 0, h: 0 }

/** Masks cut down to a rectangle; those that share an object go on sharing it. */
function onPicture(masks: ReadonlyMap<number, Mask>, full: Rect): ReadonlyMap<number, Mask> {
  const cut = new Map<Mask, Mask>()
  for (const mask of new Set(masks.values())) {
    const { rect, data } = mask
    if (contains(full, rect) || isEmpty(rect)) {
      cut.set(mask, mask)
      continue
    }
    const part = intersect(rect, full)
    const out = cutSamples(data, rect, part)
    cut.set(mask, { rect: isEmpty(part) ? NOWHERE : part, data: out })
  }
  return new Map([...masks].map(([frame, mask]) => [frame, cut.get(mask)!]))
}

function sized({ x, y, w, h }: Rect): string {
  return `${w} x ${h} from ${x}, ${y}`
}

/**
 * The patch's alpha: the mask, with a straight fall across the edge of its core (half covered and more). `outside`, the
 * default: from 1 at the edge to 0 beyond `featherPx`, because the mask's edge lies on the thing it hides and the surround
 * there is valid in donor and target alike. `inside`: from 0 at the edge to 1 within `featherPx`, for a mask that was drawn
 * wide. `both`: half on either side.
 *
 * @param inside 0 to 1 over a window of `width`; what it covers in part stays covered in part; not to be changed afterwards,
 *   since a mask is feathered once
 * @returns the same for all who ask: not to be changed either
 */
export function featheredAlpha(
  inside: Readonly<Float32Array>,
  width: number,
  featherPx: number,
  side: FeatherSide = 'outside',
): Readonly<Float32Array> {
  const made = feathered.get(inside) ?? new Map<string, Float32Array>()
  feathered.set(inside, made)
  const key = `${width} ${featherPx} ${side}`
  let alpha = made.get(key)
  if (alpha === undefined) {
    alpha = feather(inside, width, featherPx, side)
    made.set(key, alpha)
  }
  return alpha
}

const feathered = new WeakMap<Readonly<Float32Array>, Map<string, Float32Array>>()

function feather(
  inside: Readonly<Float32Array>,
  width: number,
  featherPx: number,
  side: FeatherSide,
): Float32Array {
  const alpha = Float32Array.from(inside)
  const height = inside.length / width
  const core = Uint8Array.from(inside, (v) => (v >= CORE ? 1 : 0))
  // Half of a fall that goes both ways is done at the edge.
  const atEdge = side === 'outside' ? 1 : side === 'inside' ? 0 : 0.5
  for (let i = 0; i < alpha.length; i++) if (core[i] === 0) alpha[i] *= atEdge
  if (side !== 'inside') {
    let covered: Uint8Array = core
    for (let step = 1; step <= featherPx; step++) {
      const wider = dilate(covered, width, height, 1)
      const value = atEdge * (1 - step / (featherPx + 1))
      for (let i = 0; i < alpha.length; i++)
        if (wider[i] === 1 && covered[i] === 0) alpha[i] = Math.max(alpha[i], value)
      covered = wider
    }
  }
  if (side !== 'outside') {
    // The window's own edge is no edge of the mask.
    let beyond: Uint8Array = core.map((v) => 1 - v)
    for (let step = 1; step <= featherPx; step++) {
      const nearer = dilate(beyond, width, height, 1)
      const value = atEdge + (1 - atEdge) * (step / (featherPx + 1))
      for (let i = 0; i < alpha.length; i++) if (nearer[i] === 1 && beyond[i] === 0) alpha[i] *= value
      beyond = nearer
    }
  }
  return alpha
}

function weigh({ rect, data }: Mask, window: Rect, surroundPx: number): RegionFrame {
  const inside = new Float32Array(window.w * window.h)
  const surround = new Float32Array(inside.length)
  if (isEmpty(rect)) return { inside, surround }
  // Beyond what the surround reaches all is 0.
  const reached = intersect(grow(rect, GUARD_PX + surroundPx), window)
  const covered = new Uint8Array(reached.w * reached.h)
  for (let y = 0; y < rect.h; y++) {
    const row = data.subarray(y * rect.w, (y + 1) * rect.w)
    inside.set(row, (rect.y - window.y + y) * window.w + rect.x - window.x)
    covered.set(support(row), (rect.y - reached.y + y) * reached.w + rect.x - reached.x)
  }
  const near = dilate(covered, reached.w, reached.h, GUARD_PX)
  const far = dilate(covered, reached.w, reached.h, GUARD_PX + surroundPx)
  for (let y = 0, i = 0; y < reached.h; y++) {
    let to = (reached.y - window.y + y) * window.w + reached.x - window.x
    for (let x = 0; x < reached.w; x++, i++, to++) surround[to] = far[i] === 1 && near[i] === 0 ? 1 : 0
  }
  return { inside, surround }
}

/** 1 where a mask covers any of a pixel. */
export function support(inside: Readonly<Float32Array>): Uint8Array {
  const covered = new Uint8Array(inside.length)
  for (let i = 0; i < covered.length; i++) covered[i] = inside[i] > 0 ? 1 : 0
  return covered
}

/** Square dilation by `radius`, rows then columns, by running counts. */
export function dilate(
  bits: Readonly<Uint8Array>,
  width: number,
  height: number,
  radius: number,
): Uint8Array {
  const rows = new Uint8Array(bits.length)
  const out = new Uint8Array(bits.length)
  for (let y = 0; y < height; y++) spread(bits, rows, y * width, 1, width, radius)
  for (let x = 0; x < width; x++) spread(rows, out, x, width, height, radius)
  return out
}

function spread(
  from: Readonly<Uint8Array>,
  to: Uint8Array,
  start: number,
  step: number,
  length: number,
  radius: number,
): void {
  let inReach = 0
  for (let i = 0; i < Math.min(radius, length); i++) inReach += from[start + i * step]
  for (let i = 0; i < length; i++) {
    if (i + radius < length) inReach += from[start + (i + radius) * step]
    if (i - radius - 1 >= 0) inReach -= from[start + (i - radius - 1) * step]
    to[start + i * step] = inReach > 0 ? 1 : 0
  }
}

function whitest({ data }: Mask): number {
  let most = 0
  for (const v of data) if (v > most) most = v
  return most
}

function notes(
  asked: ReadonlyMap<number, Mask>,
  empty: readonly number[],
  box: Rect,
  full: Rect,
  plate: { readonly width: number; readonly height: number },
): string[] {
  const said: string[] = []
  const whole = full.w === plate.width && full.h === plate.height
  if (!contains(full, box))
    said.push(`the mask reaches beyond the picture, ${sized(full)}: nothing is replaced there`)
  if (!contains(grow(full, -1), box)) {
    const sides = [
      box.x <= full.x ? 'left' : '',
      box.y <= full.y ? 'top' : '',
      box.x + box.w >= full.x + full.w ? 'right' : '',
      box.y + box.h >= full.y + full.h ? 'bottom' : '',
    ].filter((s) => s !== '')
    const of = whole ? 'frame' : 'picture'
    said.push(
      sides.length === 4
        ? `the mask touches all sides of the ${of}: there is nothing beside it to judge donors on, so cover less`
        : `the mask touches the ${sides.join(' and ')} of the ${of}: donors are judged on the other sides only`,
    )
  }
  const white = Math.max(...[...new Set(asked.values())].map(whitest))
  if (white < NEARLY_WHITE)
    said.push(
      `the mask is no whiter than ${Math.round(100 * white)} %, and a patch covers no more than that: make it white where the plate must not show through`,
    )
  const say = (what: string, frames: readonly number[]) => {
    if (frames.length === 0) return
    const which = `frame${frames.length > 1 ? 's' : ''} ${printFrames(frames)}`
    said.push(`the mask ${what} on ${which}: nothing is replaced there, and a patch is clear there`)
  }
  const black = (frame: number) => isEmpty(asked.get(frame)!.rect)
  say('is black', empty.filter(black))
  say(
    'covers no picture',
    empty.filter((frame) => !black(frame)),
  )
  return said
}

function count(weight: Readonly<Float32Array>): number {
  let n = 0
  for (const w of weight) if (w > 0) n++
  return n
}

/** Of a region the same always. */
const covered = new WeakMap<Region, Float32Array>()

/** What the mask covers on any frame, over the window: a moving mask as one surface. Not to be changed. */
export function everyInside(region: Region): Readonly<Float32Array> {
  const known = covered.get(region)
  if (known !== undefined) return known
  const out = new Float32Array(region.window.w * region.window.h)
  covered.set(region, out)
  let last: Readonly<Float32Array> | undefined
  for (const { inside } of region.frames.values()) {
    // Frames with one still mask share it.
    if (inside !== last) for (let i = 0; i < out.length; i++) out[i] = Math.max(out[i], inside[i])
    last = inside
  }
  return out
}

/** Whether all frames have one and the same mask. */
export function isStill({ frames }: Region): boolean {
  const weights = frames.values()
  const first = weights.next().value
  for (const other of weights) if (other !== first) return false
  return first !== undefined
}

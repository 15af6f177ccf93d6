// A made-up search on a made-up quayside: a whitewashed wall, a porter crossing it, donors that fit more or less.
// Everything is computed from the frame number, so that the same call gives the same pictures on every machine.
import { type Frame, frame } from '../../src/raster/frame.js'
import type { Candidate, FrameMatch, Result } from '../../src/search/result.js'
import type { PictureSource } from '../../src/sheet/data/pictures.js'
import type { RowPictures } from '../../src/sheet/data/seen.js'
import { FAULTLESS } from '../search/faultless.js'

const KINDS = ['hold', 'run', 'mirror', 'relay', 'stack'] as const
const FIRST_TARGET = 1060
const FIRST_DONOR = 1001

export interface QuaysideOptions {
  candidates?: number
  frames?: number
  /** side of the region, pixels */
  region?: number
  surround?: number
  donorFrames?: number
  plate?: string
  other?: string
}

/** A hand-made result: kinds in turn, from one that holds up to some that will not. */
export function quaysideResult({
  candidates = 6,
  frames = 10,
  region = 96,
  surround = 24,
  donorFrames = 160,
  plate = 'quayside/plate.####.exr',
  other = 'quayside/take2.####.exr',
}: QuaysideOptions = {}): Result {
  const last = FIRST_TARGET + frames - 1
  return {
    schema: 'offcut.result/1',
    aim: 'hide',
    target: {
      plate,
      first: FIRST_TARGET,
      last,
      frames: Array.from({ length: frames }, (_, i) => FIRST_TARGET + i),
      width: 1920,
      height: 1080,
      encoding: 'linear',
      encodingWhy: 'EXR is linear',
    },
    region: { mask: null, maskFit: 'same', box: [640, 400, region, region], surround },
    reach: 16,
    donors: [
      {
        plate,
        first: FIRST_DONOR,
        last: FIRST_DONOR + donorFrames - 1,
        frames: donorFrames,
        encoding: 'linear',
      },
      { plate: other, first: 1, last: 48, frames: 48, encoding: 'linear' },
    ],
    warnings: ['frame 1093 of the plate is missing'],
    matrix: matrix(frames, donorFrames),
    candidates: Array.from({ length: candidates }, (_, i) => candidate(i, frames, donorFrames)),
  }
}

/** The result with a mask that cuts the porter's cart off, below on every frame and at the right on the last. */
export function withCuts(result: Result): Result {
  const [x, y, w, h] = result.region.box
  const { frames } = result.target
  const below = (px: number) => [x + 20, y + h + 2, 30, px] as [number, number, number, number]
  return {
    ...result,
    cuts: [
      {
        side: 'lower',
        open: false,
        frames: frames.map((frame, i) => ({ frame, px: 4 + (i % 3), box: below(4 + (i % 3)) })),
      },
      {
        side: 'right',
        open: true,
        frames: [{ frame: frames[frames.length - 1], px: 20, box: [x + w + 2, y + 40, 18, 20] }],
      },
    ],
  }
}

/**
 * The result from a tripod that pans to the right over the quay, tilts a little and rolls; on four frames it was knocked and
 * not followed. The other take is framed a little wider. Its mask was drawn on the first target frame.
 */
export function withCamera(result: Result): Result {
  const [own, other] = result.donors
  const { width, height } = result.target
  const at = result.target.first
  const posed = (frame: number, plate: number): NonNullable<Result['camera']>['frames'][number] => {
    const lost = plate === 0 && frame >= 1120 && frame <= 1123
    const pose = plate === 0 ? tripod(frame - at, width, height) : wider(width, height)
    return { plate, frame, pose: lost ? null : pose, sigma: lost ? null : 0.03 }
  }
  const numbers = ({ first, frames }: Result['donors'][number]) =>
    Array.from({ length: frames }, (_, i) => first + i)
  const candidates = result.candidates.map((c) => ({
    ...c,
    frames: c.frames.map((f) => {
      const transform = tripod(f.donor - f.target, width, height)
      return { ...f, dx: transform[2] + 12, dy: transform[5] - 3, transform }
    }),
  }))
  return {
    ...result,
    candidates,
    region: { ...result.region, at },
    camera: {
      model: 'homography',
      reference: at,
      frames: [
        ...numbers(own).map((frame) => posed(frame, 0)),
        ...numbers(other).map((frame) => posed(frame, 1)),
      ],
    },
  }
}

type Nine = NonNullable<NonNullable<Result['camera']>['frames'][number]['pose']>

/** A frame so many after the reference: 4 px further to the right each, rolled by 0.02 degrees, 0.05 % nearer. */
function tripod(frames: number, width: number, height: number): Nine {
  const [angle, size] = [0.00035 * frames, 1 + 0.0005 * frames]
  const [c, s] = [size * Math.cos(angle), size * Math.sin(angle)]
  const [mx, my] = [width / 2, height / 2]
  const [x, y] = [4 * frames, 40 * Math.sin(frames / 40)]
  return [c, -s, mx - c * mx + s * my + x, s, c, my - s * mx - c * my + y, 0, 0, 1]
}

function wider(width: number, height: number): Nine {
  return [1.08, 0, -0.04 * width - 150, 0, 1.08, -0.04 * height + 60, 0, 0, 1]
}

function candidate(i: number, frames: number, donorFrames: number): Candidate {
  const kind = KINDS[i % KINDS.length]
  const quality = 1 - i / 14
  const verdict = quality > 0.75 ? 'holds up' : quality > 0.4 ? 'needs work' : 'will not hold'
  const start = FIRST_DONOR + 100 + ((i * 7) % Math.max(1, donorFrames - frames - 100))
  const matches: FrameMatch[] = Array.from({ length: frames }, (_, k) => {
    const wobble = Math.sin(k * 1.3 + i)
    const donorFrame =
      kind === 'hold' || kind === 'stack'
        ? start
        : kind === 'run'
          ? start + k
          : kind === 'mirror'
            ? start + frames - 1 - k
            : start + (k < frames / 2 ? 0 : 4)
    const stops = 0.04 * i + 0.01 * wobble
    const gain = 2 ** stops
    return {
      target: FIRST_TARGET + k,
      plate: 0,
      donor: donorFrame,
      dx: 0.2 + 0.3 * i + 0.05 * wobble,
      dy: -0.4 - 0.1 * wobble,
      stops,
      gain: [gain, gain, gain * 1.005],
      ncc: 0.997 - 0.01 * i - 0.001 * Math.abs(wobble),
      seam: 1.02 + 0.22 * i + 0.08 * Math.abs(wobble),
      expected: 44 - 0.5 * i,
      clean: 0.999 - 0.008 * i,
    }
  })
  const offset = matches[0].donor - FIRST_TARGET
  const ids = {
    hold: `hold-${start}`,
    run: `run${offset < 0 ? '-' : '+'}${Math.abs(offset)}`,
    mirror: `mirror-${matches[0].donor + FIRST_TARGET}`,
    relay: `relay-${i + 1}`,
    stack: `stack-${i + 1}`,
  }
  return {
    id: i < KINDS.length * 4 ? ids[kind] : `${ids[kind]}.${i}`,
    kind,
    donor: 0,
    timeOffset: kind === 'run' ? offset : null,
    score: Math.round(1000 * quality) / 10,
    verdict,
    why: `${verdict === 'holds up' ? 'fits' : 'the seam shows'}: seam ${(1.02 + 0.22 * i).toFixed(2)} times grain`,
    ...FAULTLESS,
    ncc: 0.997 - 0.01 * i,
    stops: 0.04 * i,
    seam: 1.02 + 0.22 * i,
    expected: 44 - 0.5 * i,
    shortfall: 0.4 + 0.5 * i,
    interval: [41 - 0.5 * i, 47 - 0.5 * i],
    clean: 0.999 - 0.008 * i,
    grain: 1 + 0.03 * i,
    sharpness: 0.99 - 0.02 * i,
    steadiness: 0.03 + 0.02 * i,
    life: i === 3 ? null : 0.1,
    frames: matches,
    alternatives:
      i % 3 === 0 ? [{ id: `hold-${start + 1}`, score: Math.round(990 * quality) / 10 }] : undefined,
  }
}

function matrix(frames: number, donorFrames: number): NonNullable<Result['matrix']> {
  return {
    targets: Array.from({ length: frames }, (_, i) => FIRST_TARGET + i),
    donors: Array.from({ length: donorFrames }, (_, i) => ({ plate: 0, frame: FIRST_DONOR + i })),
    quality: Array.from({ length: frames }, (_, t) =>
      Array.from({ length: donorFrames }, (_, d) => {
        const itself = FIRST_DONOR + d >= FIRST_TARGET && FIRST_DONOR + d < FIRST_TARGET + frames
        if (itself) return null
        return Math.round(10 * (60 + 30 * Math.sin(d / 17) + 8 * Math.cos(t / 3 + d / 5))) / 10
      }),
    ),
  }
}

/** A borrow: the heron's shadow, in one donor whole, in another cut off by the range, and a passer-by. */
export function heronResult({ frames = 9 } = {}): Result {
  const base = quaysideResult({ candidates: 3, frames })
  const candidates = base.candidates.map((candidate, i): Candidate => {
    const peak = 1130 + 3 * i
    const middle = (frames - 1) / 2
    return {
      ...candidate,
      id: `run+${66 + 3 * i}`,
      kind: 'run',
      timeOffset: 66 + 3 * i,
      expected: null,
      shortfall: null,
      interval: null,
      frames: candidate.frames.map((f, k) => ({ ...f, donor: peak - middle + k, expected: null })),
      moment: {
        donor: 0,
        start: peak - 3,
        peak,
        end: peak + 3,
        what: i === 2 ? 'object' : 'light',
        sign: 'darker',
        depthStops: 0.62,
        coverage: 0.8,
        surface: 0.97,
        colour: [1, 1, 1.02],
        depths: Array.from({ length: 21 }, (_, k) => ({
          frame: peak - 10 + k,
          stops: -0.62 * Math.max(0, 1 - Math.abs(k - 10) / 4),
        })),
        quiet: [1101, 1102],
      },
    }
  })
  return {
    ...base,
    aim: 'borrow',
    borrow: {
      peak: FIRST_TARGET + (frames - 1) / 2,
      sign: 'darker',
      like: null,
      lookIn: null,
      offset: [0, 0],
    },
    candidates,
  }
}

/** Pictures to go with {@link heronResult}: the wall, and a shadow that moves over it and darkens it by 0.62 stops. */
export function heronPictures(result: Result): PictureSource {
  const plain = quaysidePictures({ ...result, candidates: result.candidates })
  return sourceOf(async (candidate, match) => {
    const seen = await plain.pictures(candidate, match)
    const { rect, alpha } = seen
    const { moment } = candidate
    const away = match.donor - moment!.peak
    const ratio = frame(rect.h, rect.w, 3)
    const target = wall(rect.w, rect.h, 0, 0, 1, match.target)
    const repaired = frame(rect.h, rect.w, 3)
    const donor = wall(rect.w, rect.h, 0, 0, 1, 5000 + match.donor)
    for (let p = 0, i = 0; p < alpha.length; p++) {
      const x = (p % rect.w) / rect.w - 0.5 - 0.1 * away
      const y = Math.floor(p / rect.w) / rect.h - 0.5
      const depth = -0.62 * Math.max(0, 1 - Math.abs(away) / 4) * Math.exp(-(x * x + y * y) / 0.02)
      for (let c = 0; c < 3; c++, i++) {
        ratio.data[i] = 2 ** (depth * alpha[p])
        repaired.data[i] = target.data[i] * ratio.data[i]
        donor.data[i] *= 2 ** depth
      }
    }
    return { ...seen, target, donor, patch: repaired, repaired, ratio }
  })
}

function sourceOf(pictures: PictureSource['pictures']): PictureSource {
  return { pictures, donor: pictures }
}

/** Pictures to go with {@link quaysideResult}: the wall, with the porter in the target, without them in the donor. */
export function quaysidePictures(result: Result, light = 1): PictureSource {
  const [bx, by, bw, bh] = result.region.box
  const ring = result.region.surround + 8
  const rect = { x: bx - ring, y: by - ring, w: bw + 2 * ring, h: bh + 2 * ring }
  const mask = roundedMask(rect.w, rect.h, ring, bw, bh)
  return sourceOf(async (candidate, match): Promise<RowPictures> => {
    const rank = result.candidates.indexOf(candidate)
    const target = wall(rect.w, rect.h, 0, 0, light, match.target)
    porter(target, (match.target - FIRST_TARGET) / result.target.frames.length, light)
    const dim = light / match.gain[0]
    const donor = wall(rect.w, rect.h, rank * 0.35, 0, dim, 5000 + match.donor)
    const patch = frame(
      rect.h,
      rect.w,
      3,
      donor.data.map((light, i) => light * match.gain[i % 3]),
    )
    const repaired = frame(rect.h, rect.w, 3, Float32Array.from(target.data))
    for (let p = 0, i = 0; p < mask.length; p++) {
      for (let c = 0; c < 3; c++, i++) {
        repaired.data[i] += mask[p] * (patch.data[i] - repaired.data[i])
      }
    }
    return { rect, target, donor, patch, repaired, alpha: mask, mask }
  })
}

/** Whole frames to go with {@link quaysidePictures}: the wall, a step darker to the right of the region's middle. */
export function quaysideWhole({ target, region }: Result): (number: number) => Promise<Frame> {
  const [x, , w] = region.box
  return async () => {
    const out = frame(target.height, target.width, 3)
    for (let p = 0, i = 0; p < target.width * target.height; p++) {
      const light = p % target.width < x + w / 2 ? 0.3 : 0.15
      for (let c = 0; c < 3; c++, i++) out.data[i] = light
    }
    return out
  }
}

/** Whitewashed brick, lit from the left, with grain of about one hundredth. */
function wall(w: number, h: number, shiftX: number, shiftY: number, light: number, grainOf: number): Frame {
  const out = frame(h, w, 3)
  const noise = random(grainOf)
  for (let y = 0, i = 0; y < h; y++) {
    for (let x = 0; x < w; x++) {
      const u = x - shiftX
      const v = y - shiftY
      const course = Math.floor(v / 14)
      const across = (((u + (course % 2) * 17) % 34) + 34) % 34
      const down = ((v % 14) + 14) % 14
      const joint = Math.min(1, Math.min(across, down) / 1.6)
      const patchy = 0.05 * Math.sin(u * 0.21 + v * 0.05) * Math.cos(v * 0.17 - u * 0.03)
      const base = (0.34 + patchy + 0.0006 * (w - u)) * (0.62 + 0.38 * joint)
      for (let c = 0; c < 3; c++, i++) {
        out.data[i] = Math.max(0, light * (base * [1, 0.97, 0.9][c] + 0.012 * (noise() + noise() - 1)))
      }
    }
  }
  return out
}

/** A dark figure with a cart, somewhere between the left and the right of the region. */
function porter(picture: Frame, along: number, light: number): void {
  const [h, w] = picture.shape
  const cx = w * (0.4 + 0.12 * along)
  for (let y = 0; y < h; y++) {
    for (let x = 0; x < w; x++) {
      const body = ((x - cx) / (w * 0.08)) ** 2 + ((y - h * 0.52) / (h * 0.2)) ** 2 < 1
      const head = (x - cx) ** 2 + (y - h * 0.31) ** 2 < (w * 0.045) ** 2
      const cart = Math.abs(x - cx - w * 0.12) < w * 0.06 && Math.abs(y - h * 0.62) < h * 0.06
      if (!body && !head && !cart) continue
      const shade = light * (cart ? 0.16 : head ? 0.2 : 0.06)
      for (let c = 0; c < 3; c++) picture.set(y, x, c, shade * [0.9, 1, 1.2][c])
    }
  }
}

function roundedMask(w: number, h: number, ring: number, bw: number, bh: number): Float32Array {
  const mask = new Float32Array(w * h)
  for (let y = 0, i = 0; y < h; y++) {
    for (let x = 0; x < w; x++, i++) {
      const r = Math.hypot((x - ring - bw / 2 + 0.5) / (bw / 2), (y - ring - bh / 2 + 0.5) / (bh / 2))
      mask[i] = Math.max(0, Math.min(1, (1 - r) * 12))
    }
  }
  return mask
}

/** 0 to 1, even: a linear congruential generator with the constants of Knuth and Lewis. */
export function random(seed: number): () => number {
  let state = (Math.imul(seed, 2654435761) ^ 0x5bd1e995) >>> 0
  return () => {
    state = (Math.imul(state, 1664525) + 1013904223) >>> 0
    return (state >>> 8) / 2 ** 24
  }
}

// A result made by hand for a planted plate, so that a repair's offsets and gains are exactly known.
import type { Candidate, FrameMatch, Result } from '../../src/search/result.js'
import { FAULTLESS } from '../search/faultless.js'

export const BOX = [60, 40, 24, 30] as const

export interface Lending {
  readonly target: number
  readonly donor: number
  readonly dx?: number
  readonly dy?: number
  readonly gain?: readonly [number, number, number]
}

export function resultFor(
  plate: string,
  lendings: readonly Lending[],
  {
    grain = 1,
    width = 160,
    height = 120,
    encoding = 'srgb',
    frames = 24,
    first = 1001,
    box = BOX as readonly number[],
    empty = [] as readonly number[],
  } = {},
): { result: Result; candidate: Candidate } {
  const matches = lendings.map(
    ({ target, donor, dx = 0, dy = 0, gain = [1, 1, 1] }): FrameMatch => ({
      target,
      plate: 0,
      donor,
      dx,
      dy,
      stops: Math.log2(gain[1]),
      gain: [...gain],
      ncc: 1,
      seam: 1,
      expected: 40,
      clean: 1,
    }),
  )
  const candidate: Candidate = {
    id: 'relay-1',
    kind: 'relay',
    donor: 0,
    timeOffset: null,
    score: 90,
    verdict: 'holds up',
    why: 'made by hand',
    ...FAULTLESS,
    grain,
    frames: matches,
  }
  const targets = lendings.map((l) => l.target)
  const result: Result = {
    schema: 'offcut.result/1',
    aim: 'hide',
    target: {
      plate,
      first: targets[0],
      last: targets.at(-1)!,
      frames: targets,
      width,
      height,
      encoding,
      encodingWhy: 'made by hand',
    },
    region: {
      mask: null,
      maskFit: 'same',
      box: [box[0], box[1], box[2], box[3]],
      surround: 16,
      empty: [...empty],
    },
    reach: 16,
    donors: [{ plate, first, last: first + frames - 1, frames, encoding }],
    warnings: [],
    candidates: [candidate],
  }
  return { result, candidate }
}

/** Distance from the box in whole pixels, the larger of both directions; 0 inside. */
export function distance(x: number, y: number, [bx, by, bw, bh]: readonly number[] = BOX): number {
  return Math.max(bx - x, x - (bx + bw - 1), by - y, y - (by + bh - 1), 0)
}

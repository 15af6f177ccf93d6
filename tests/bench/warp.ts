// What it costs to lay a frame's rectangle on the common grid, in one thread, and to make it smaller on the way.
import { warp, warpHalves } from '../../src/kernels/warp.js'
import { Workspace } from '../../src/kernels/workspace.js'
import { CUBIC } from '../../src/raster/filters.js'
import type { Transform } from '../../src/raster/transform.js'
import { randomFrom } from '../random.js'
import type { Figure } from './figures.js'

const FROM = { x: 0, y: 0, w: 560, h: 440 }
const TO = { x: 30, y: 30, w: 480, h: 360 }
const ROUNDS = 25
/** Rolled by 1.7 degrees under a tilt that moves the frame's edge by a per cent, at so much of its size. */
const turned = (size: number): Transform => {
  const [c, s] = [size * Math.cos(0.03), size * Math.sin(0.03)]
  return [c, -s, 3.3, s, c, -2.2, 1e-5, 1e-5, 1]
}

export function warpFigures(): Figure[] {
  const random = randomFrom('warp')
  const data = Float32Array.from({ length: FROM.w * FROM.h * 3 }, random)
  const halves = Uint16Array.from(data, (v) => 15_000 * v)
  const out = { rect: TO, data: new Float32Array(TO.w * TO.h * 3) }
  const workspace = new Workspace()
  const options = { channels: 3, filter: CUBIC, beyond: 'edge' } as const
  const cases: [what: string, most: number | undefined, work: () => void][] = [
    ['nearer', 40, () => warp(workspace, { rect: FROM, data }, turned(1.04), out, options)],
    ['at 0.96 of the size', 40, () => warp(workspace, { rect: FROM, data }, turned(0.96), out, options)],
    ['at 0.96 of the size, as halves', undefined, () => void warpHalves(halves, FROM, turned(0.96), TO)],
  ]
  return cases.map(([what, most, work]) => {
    work()
    const times = Array.from({ length: ROUNDS }, () => {
      const start = performance.now()
      work()
      return performance.now() - start
    }).sort((a, b) => a - b)
    const middle = times[ROUNDS >> 1]
    return {
      what: `480 x 360 of three channels under a homography, ${what}`,
      value: times[0],
      unit: 'ms',
      ...(most === undefined ? {} : { most }),
      detail: `least of ${ROUNDS} runs, half below ${middle.toFixed(1)} ms, cubic, one thread`,
    }
  })
}

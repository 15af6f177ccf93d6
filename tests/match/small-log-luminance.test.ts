import { describe, expect, test } from 'vitest'
import { halve } from '../../src/kernels/pyramid.js'
import { Workspace } from '../../src/kernels/workspace.js'
import { halfBits } from '../../src/match/half-bits.js'
import { logLuminance, smallLogLuminance, VALID } from '../../src/match/log-luminance.js'
import { floatsToHalves, HALF_NAN } from '../../src/raster/half.js'

/** A frame with grain, a hole and a clipped lamp. */
function halvesOf(w: number, h: number): Uint16Array {
  let seed = 5
  const random = () => {
    seed = (seed * 1103515245 + 12345) % 2147483648
    return seed / 2147483648
  }
  const light = Float32Array.from({ length: 3 * w * h }, (_, i) => 0.02 + random() * (1 + (i % 97) / 30))
  const halves = new Uint16Array(light.length)
  floatsToHalves(light, halves)
  halves.fill(HALF_NAN, 3 * (5 * w + 9), 3 * (5 * w + 12))
  halves.fill(0x7bff, 3 * (11 * w + 30), 3 * (11 * w + 31))
  return halves
}

describe('a whole frame as a smaller picture', () => {
  test.each([
    { w: 67, h: 41, halvings: 0 },
    { w: 67, h: 41, halvings: 1 },
    { w: 70, h: 45, halvings: 2 },
    { w: 131, h: 66, halvings: 4 },
  ])(
    'of $w x $h, halved $halvings times, is what halving its working picture gives',
    ({ w, h, halvings }) => {
      const workspace = new Workspace()
      const halves = halvesOf(w, h)
      const rect = { x: 0, y: 0, w, h }
      const { log, validity } = logLuminance(workspace, halves, rect, 1000)
      let picture = log
      let known = Uint8Array.from(validity, (v) => (v === VALID ? 1 : 0))
      for (let k = 0; k < halvings; k++) {
        known = halfBits(known, picture.width, picture.height)
        picture = halve(workspace, picture)
      }
      const small = smallLogLuminance(workspace, halves, rect, 2 ** halvings, 1000)
      expect([small.log.width, small.log.height]).toEqual([picture.width, picture.height])
      expect(small.known).toEqual(known)
      expect(known).toContain(0)
      let worst = 0
      for (const [i, v] of picture.data.entries())
        if (known[i] === 1) worst = Math.max(worst, Math.abs(v - small.log.data[i]))
      expect(worst).toBeLessThan(2e-6)
      workspace.close()
    },
  )
})

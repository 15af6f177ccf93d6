import { expect, test } from 'vitest'
import { powerLaw } from '../../src/kernels/light.js'
import { Workspace } from '../../src/kernels/workspace.js'

test.each([
  { level: 0.012, power: 0.5 },
  { level: 0.4, power: 0.73 },
  { level: 1, power: 0 },
])(
  'strength that goes with light to the power of $power is what the formula gives in double precision',
  ({ level, power }) => {
    const workspace = new Workspace()
    // From black, which counts as 1e-4, to the brightest half; a length that fills no whole vector.
    const light = Float32Array.from({ length: 1003 }, (_, i) => (i < 3 ? -0.5 * i : 65504 * (i / 1002) ** 6))
    const out = light.slice()
    powerLaw(workspace, out, level, power, 1e-4)
    for (const [i, v] of light.entries()) {
      const wanted = level * Math.max(1e-4, v) ** power
      expect(Math.abs(out[i] / wanted - 1)).toBeLessThan(1e-6)
    }
    workspace.close()
  },
)

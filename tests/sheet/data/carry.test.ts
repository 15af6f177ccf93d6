// Law: what a sheet measures of a candidate is what its frames give in their order, however late their pictures come.
import { expect, test } from 'vitest'
import type { WholeFinish } from '../../../src/repair/finish/finish.js'
import { carryFrames } from '../../../src/sheet/data/carry.js'
import { finishLabel, finishWords } from '../../../src/sheet/data/finish-words.js'
import type { PictureSource } from '../../../src/sheet/data/pictures.js'
import { CODINGS } from '../../../src/sheet/html/encode.js'
import { quaysidePictures, quaysideResult } from '../quayside.js'

const FINISH: WholeFinish = {
  ...{
    seam: 1.02,
    flicker: 1.13,
    noise: [1.004, 0.98, 0.951],
    spectrum: 0.62,
    stray: null,
    unmeasured: null,
  },
}
/** Of frames that have a step at their border, and are no pair. */
const STEPPED: WholeFinish = {
  ...{ seam: 1.5, flicker: null, noise: null, spectrum: null, stray: null },
  unmeasured: 'no two frames follow each other',
}

test('frames are measured in their order, of the best three candidates that play all of theirs', async () => {
  const result = quaysideResult({ candidates: 5, frames: 4, region: 24 })
  const pictures = quaysidePictures(result)
  const taken: number[][] = []
  const late: PictureSource = {
    ...pictures,
    async pictures(candidate, match) {
      // The first frame comes last.
      await new Promise((done) => setTimeout(done, 20 * (4 - (match.target - result.target.first))))
      return pictures.pictures(candidate, match)
    },
    async meter() {
      const frames: number[] = []
      taken.push(frames)
      return {
        add: (target) => void frames.push(target),
        get measured() {
          return frames.map((target) => ({ target, seam: 1.5, detail: null, change: 'apart' as const }))
        },
      }
    },
  }
  const plan = { coding: CODINGS[0], ways: 5, step: 1 }
  const show = (picture: { data: Float32Array }) => Uint8Array.from(picture.data, (v) => 255 * v)
  const { finish } = await carryFrames(result.candidates, late, plan, show)
  const { frames } = result.target
  expect(taken).toEqual([frames, frames, frames])
  expect(finish).toEqual([STEPPED, STEPPED, STEPPED, null, null])
})

test('numbers are said with their limits, and how they stand to them', () => {
  const within = 'within'
  expect(finishWords('noise', FINISH.noise, null)).toEqual({ figures: '1.00, 0.98, 0.95', standing: within })
  expect(finishWords('flicker', FINISH.flicker, null)).toEqual({ figures: '1.13', standing: 'beyond' })
  expect(finishWords('spectrum', FINISH.spectrum, null)).toEqual({
    figures: '0.62 dB apart',
    standing: within,
  })
  expect(finishWords('seam', null, null)).toEqual({ figures: '–', standing: within })
  const uneven = { frame: { flicker: 0.3, noise: 0.3 }, all: { flicker: 0.1, noise: 0.1 } }
  expect(finishWords('flicker', FINISH.flicker, uneven).standing).toBe('strays')
  expect(finishWords('flicker', 1.5, uneven).standing).toBe('beyond')
  // A step at the border is told on the spot, in units of the plate's own grain.
  expect(finishWords('seam', 1.3, uneven).standing).toBe('beyond')
  expect(finishLabel('seam').wanted).toBe('at most 1.2')
  expect(finishLabel('noise').wanted).toBe('0.9 to 1.1')
})

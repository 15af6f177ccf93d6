// Where the mask cuts is shown close up: which frames, and that the picture is the plate's own.
import { describe, expect, test } from 'vitest'
import { viewingOf } from '../../../src/colour/viewing.js'
import { crossingsShown, drawCrossings } from '../../../src/sheet/data/crossings.js'
import { quaysidePictures, quaysideResult, withCuts } from '../quayside.js'

const { toDisplay } = viewingOf({ encoding: 'linear' })
const result = withCuts(quaysideResult({ candidates: 2, frames: 9 }))
const pictures = quaysidePictures(result)

describe('the frames that are shown', () => {
  test('are at most three, every cut’s worst before another of the same cut, in order', () => {
    const shown = crossingsShown(result.cuts)
    expect(shown.map(({ frame, side, px }) => [frame, side, px])).toEqual([
      [1060, 'lower', 4],
      [1062, 'lower', 6],
      [1068, 'right', 20],
    ])
  })

  test('of one frame that is cut is that one, and none where the mask fits', () => {
    const [cut] = result.cuts!
    const once = crossingsShown([{ ...cut, frames: [cut.frames[4]] }])
    expect(once.map(({ frame }) => frame)).toEqual([1064])
    expect(crossingsShown(undefined)).toEqual([])
  })
})

test('a picture is the target’s own pixels round what is cut off, with the mask’s edge in it', async () => {
  const drawn = await drawCrossings(result, pictures, toDisplay)
  expect(drawn).toHaveLength(3)
  for (const { frame, box, rect, picture, outline } of drawn) {
    const match = result.candidates[0].frames.find((f) => f.target === frame)!
    const seen = await pictures.pictures(result.candidates[0], match)
    const whole = toDisplay(seen.target)
    expect([rect.x >= seen.rect.x, rect.y >= seen.rect.y]).toEqual([true, true])
    expect(rect.x + rect.w).toBeLessThanOrEqual(seen.rect.x + seen.rect.w)
    expect(rect.y + rect.h).toBeLessThanOrEqual(seen.rect.y + seen.rect.h)
    expect(rect.x <= box.x && rect.x + rect.w >= box.x + box.w).toBe(true)
    expect(rect.y <= box.y && rect.y + rect.h >= box.y + box.h).toBe(true)
    expect([picture.w, picture.h]).toEqual([rect.w, rect.h])
    for (let y = 0; y < rect.h; y += 5)
      for (let x = 0; x < rect.w; x++) {
        const there = 3 * ((y + rect.y - seen.rect.y) * seen.rect.w + x + rect.x - seen.rect.x)
        expect(picture.samples[3 * (y * rect.w + x)]).toBe(whole[there])
      }
    expect(outline).not.toBe('')
  }
})

test('without a candidate that has the frame there is no picture', async () => {
  expect(await drawCrossings({ ...result, candidates: [] }, pictures, toDisplay)).toEqual([])
})

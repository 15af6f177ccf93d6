// Poses written by hand, so that what is said and drawn of them is known: where frames look, which see the region, by how
// much a donor is made larger and turned.
import { describe, expect, test } from 'vitest'
import { candidateTable } from '../../../src/cli/table.js'
import { apply, compose, invert, shift, type Transform } from '../../../src/raster/transform.js'
import { resultSchema } from '../../../src/search/result.js'
import { misfit } from '../../../src/search/result-misfit.js'
import { cameraPath, seenOn } from '../../../src/sheet/data/camera-path.js'
import { cameraWords } from '../../../src/sheet/data/camera-words.js'
import { csvText } from '../../../src/sheet/data/csv.js'
import { zoomAndRoll } from '../../../src/sheet/data/zoom-roll.js'
import { quaysideResult, withCamera } from '../quayside.js'

const STILL = quaysideResult({ candidates: 2, frames: 4 })
const MOVING = withCamera(STILL)

/** The result with the target plate's poses replaced. */
function posed(poseOf: (frame: number) => Transform | null) {
  const frames = MOVING.camera!.frames.filter(({ plate }) => plate === 0).map((f) => {
    const pose = poseOf(f.frame)
    return { ...f, pose: pose && ([...pose] as NonNullable<(typeof f)['pose']>), sigma: pose && 0.02 }
  })
  return { ...MOVING, camera: { ...MOVING.camera!, model: 'shift' as const, frames } }
}

test('the hand-made result is one that a search may write', () => {
  expect(resultSchema.parse(JSON.parse(JSON.stringify(MOVING)))).toEqual(JSON.parse(JSON.stringify(MOVING)))
  expect(misfit(MOVING)).toBeNull()
})

describe('the words', () => {
  test('say the model, on which frames the camera was followed and which see the region, plate by plate', () => {
    expect(cameraWords(MOVING)).toEqual([
      'the camera turns: homography, on the pixels of frame 1060',
      'not followed on 1120-1123 of the plate; on the other 156 frames, to 0.03 px',
      'all of the region is in the frame on 1001-1119, 1124-1160 of the plate',
      'followed on all 48 frames of quayside/take2.####.exr, to 0.03 px',
      'all of the region is in the frame on 1-48 of quayside/take2.####.exr',
    ])
  })

  test('are none where the camera stands', () => {
    expect(cameraWords(STILL)).toEqual([])
    expect(cameraPath(STILL, { width: 300, height: 200 })).toBeNull()
  })

  test('say where no frame sees the region, and where none was followed', () => {
    const far = posed((frame) => (frame === 1060 ? shift(0, 0) : shift(3000, 0)))
    expect(cameraWords(far).at(-1)).toBe('all of the region is in the frame on 1060')
    const lost = posed(() => null)
    expect(cameraWords(lost)).toContain('followed on none of the 160 frames')
    expect(cameraPath(lost, { width: 300, height: 200 })).toBeNull()
  })
})

describe('a frame', () => {
  // The region is 96 x 96 at 640, 400 on frame 1060 of 1920 x 1080.
  test.each([
    [640, 'all'],
    [641, 'part'],
    [735, 'part'],
    [736, 'none'],
    [-1184, 'all'],
    [-1185, 'part'],
  ])('moved by %i pixels sees %s of the region', (dx, seen) => {
    const result = posed((frame) => (frame === 1060 ? shift(0, 0) : shift(dx, 0)))
    expect(seenOn(result, result.camera.frames[0])).toBe(seen)
    expect(seenOn(result, { ...result.camera.frames[0], pose: null })).toBeNull()
  })
})

describe('the drawing', () => {
  const numbers = (d: string) => d.match(/-?[\d.]+/g)!.map(Number)

  test('of a pan is a level line, as long as the pan against the frame, inside its bounds', () => {
    const path = cameraPath(
      posed((frame) => shift(10 * (frame - 1060), 0)),
      { width: 400, height: 300 },
    )!
    const points = numbers(path.path)
    const ys = points.filter((_, i) => i % 2 === 1)
    expect(Math.max(...ys) - Math.min(...ys)).toBeLessThan(0.2)
    // 159 steps of 10 px; all of it spans that and a frame of 1920 px, within 20 units of room.
    const length = points.at(-2)! - points[0]
    expect(length / (path.width - 20)).toBeCloseTo(1590 / (1590 + 1920), 2)
    expect(path.width).toBe(400)
    for (const d of [path.frames, path.targets, path.region!]) {
      for (const [i, v] of numbers(d).entries()) {
        expect(v).toBeGreaterThanOrEqual(0)
        expect(v).toBeLessThanOrEqual(i % 2 === 0 ? path.width : path.height)
      }
    }
    expect(path.ends.map(({ frame }) => frame)).toEqual([1001, 1160])
  })

  test('marks each frame by whether it sees all of the region, and breaks where the camera was lost', () => {
    const result = posed((frame) =>
      frame === 1100 ? null : frame < 1100 ? shift(0, 0) : shift(700, 10 * (frame - 1100)),
    )
    const path = cameraPath(result, { width: 400, height: 300 })!
    const marks = (d: string) => d.split('M').length - 1
    expect(marks(path.seeing)).toBe(99)
    expect(marks(path.blind)).toBe(60)
    expect(marks(path.path)).toBe(2)
    expect(marks(path.targets)).toBe(4)
    expect(marks(path.frames)).toBe(16)
  })

  test('draws the region where the mask was drawn, whatever frame is the grid', () => {
    const other = compose(shift(-200, 50), invert(shift(0, 0)))
    const result = posed((frame) => (frame === 1060 ? other : shift(0, 0)))
    const path = cameraPath(result, { width: 400, height: 300 })!
    const place = apply(other, 639.5, 399.5)
    const [x, y] = numbers(path.region!)
    const scale = (path.width - 20) / 2120
    expect(x).toBeCloseTo((place.x + 200.5) * scale + 10, 0)
    expect(y).toBeCloseTo((place.y + 0.5) * scale + 10, 0)
  })

  test('leaves out a frame that would make a dot of the others', () => {
    const result = posed((frame) => (frame === 1160 ? shift(1e6, 0) : shift(frame, 0)))
    expect(cameraPath(result, { width: 400, height: 300 })!.ends.map(({ frame }) => frame)).toEqual([
      1001, 1159,
    ])
  })
})

describe('zoom and roll', () => {
  const turned = (degrees: number, size: number): Transform => {
    const a = (degrees * Math.PI) / 180
    const [c, s] = [size * Math.cos(a), size * Math.sin(a)]
    return [c, -s, 31, s, c, -8, 0, 0, 1]
  }
  const withTransforms = (...all: (Transform | undefined)[]) => {
    const [first] = STILL.candidates
    const frames = all.map((t, i) => ({ ...first.frames[i], transform: t && ([...t] as never) }))
    return { ...first, frames }
  }

  test('are what was planted, of a clockwise turn and a larger donor above 0', () => {
    expect(zoomAndRoll(withTransforms(turned(1.2, 1.04)), STILL)).toEqual({ zoom: '+4.0 %', roll: '+1.2°' })
    expect(zoomAndRoll(withTransforms(turned(-0.5, 0.92)), STILL)).toEqual({ zoom: '−8.0 %', roll: '−0.5°' })
  })

  test('are a span where they change over the range, and none where donors are only moved', () => {
    const changing = withTransforms(turned(0, 1.01), undefined, turned(0.3, 1.02))
    expect(zoomAndRoll(changing, STILL)).toEqual({ zoom: '0.0 to +2.0 %', roll: '0.0 to +0.3°' })
    expect(zoomAndRoll(withTransforms(undefined, shift(4, 5)), STILL)).toBeNull()
  })

  test('are those at the region where a tilt makes them differ over the frame', () => {
    const tilt: Transform = [1, 0, 0, 0, 1, 0, 1e-4, 0, 1]
    const middle = { x: 687.5, y: 447.5 }
    const near = (x: number, y: number) => apply(tilt, x, y)
    const from = apply(invert(tilt), middle.x, middle.y)
    const [r, l] = [near(from.x + 0.5, from.y), near(from.x - 0.5, from.y)]
    const [d, u] = [near(from.x, from.y + 0.5), near(from.x, from.y - 0.5)]
    const area = (r.x - l.x) * (d.y - u.y) - (r.y - l.y) * (d.x - u.x)
    const said = Number(zoomAndRoll(withTransforms(tilt), STILL)!.zoom.replace('−', '-').replace(' %', ''))
    expect(said).toBeCloseTo(100 * (Math.sqrt(area) - 1), 1)
  })

  test('have a column in the terminal only where there are any, and none in the CSV', () => {
    const some = { ...STILL, candidates: [withTransforms(turned(1.2, 1.04)), STILL.candidates[1]] }
    const [head, first, second] = candidateTable(some)
    expect(head).toMatch(/dx, dy +zoom, roll/)
    expect(first).toContain('+4.0 %, +1.2°')
    expect(second).toMatch(/ none /)
    expect(candidateTable(STILL)[0]).not.toContain('zoom')
    const [columns, row] = csvText(some).split('\r\n')
    expect(columns).toBe(csvText(STILL).split('\r\n')[0])
    expect(row).toContain(String(some.candidates[0].id))
  })
})

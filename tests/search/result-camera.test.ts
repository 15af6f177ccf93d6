// What a result says of a moving camera and of donors that turn or grow: kept as written, and refused where it can't be.
import { expect, test } from 'vitest'
import { type Result, resultSchema } from '../../src/search/result.js'
import { misfit } from '../../src/search/result-misfit.js'
import { resultFor } from '../repair/job.js'

const ZOOM: Nine = [1.1, 0, -3, 0, 1.1, 2, 0, 0, 1]
const FLAT: Nine = [1, 2, 0, 2, 4, 0, 0, 0, 1]
type Nine = [number, number, number, number, number, number, number, number, number]

/** Two target frames, whose camera is followed but for a frame that is no target. */
function moving(): Result {
  const { result } = resultFor('plate', [
    { target: 1004, donor: 1010 },
    { target: 1005, donor: 1010 },
  ])
  const [candidate] = result.candidates
  const share = {
    plate: 0,
    frame: 1012,
    dx: 0,
    dy: 0,
    transform: [...ZOOM] as Nine,
    gain: one(),
    weight: 0.5,
  }
  for (const match of candidate.frames) {
    match.transform = [...ZOOM]
    match.stack = [structuredClone(share), structuredClone(share)]
    match.quiet = { dx: 0, dy: 0, transform: [...ZOOM], gain: one() }
  }
  const still = { plate: 0, sigma: 0.05 }
  return {
    ...result,
    region: { ...result.region, at: 1004 },
    camera: {
      model: 'similarity',
      reference: 1004,
      frames: [
        { ...still, frame: 1004, pose: [1, 0, 0, 0, 1, 0, 0, 0, 1] },
        { ...still, frame: 1005, pose: [...ZOOM] },
        { ...still, frame: 1006, pose: null, sigma: null },
      ],
    },
  }
}

function one(): [number, number, number] {
  return [1, 1, 1]
}

test('the path of a camera and the transforms of donors come back from disk as they were written', () => {
  const result = moving()
  expect(misfit(result)).toBeNull()
  expect(resultSchema.parse(JSON.parse(JSON.stringify(result)))).toEqual(result)
})

test.each<[string, (result: Result) => void, string]>([
  ['of a donor', (r) => (r.candidates[0].frames[1].transform = FLAT), 'candidates[0].frames[1].transform'],
  [
    'of a share',
    (r) => (r.candidates[0].frames[0].stack![1].transform = FLAT),
    'candidates[0].frames[0].stack[1].transform',
  ],
  [
    'of a reference state',
    (r) => (r.candidates[0].frames[0].quiet!.transform = FLAT),
    'candidates[0].frames[0].quiet.transform',
  ],
  ['of a pose', (r) => (r.camera!.frames[1].pose = FLAT), 'camera.frames[1].pose'],
])('a transform %s that folds the picture onto a line is refused by name', (_, edit, name) => {
  const result = moving()
  edit(result)
  expect(misfit(result)).toBe(`${name} must have an inverse, and is [1, 2, 0, 2, 4, 0, 0, 0, 1]`)
})

test.each<[string, (result: Result) => void, string]>([
  [
    'of a plate that is none',
    (r) => (r.camera!.frames[2].plate = 3),
    'camera.frames[2].plate must be an index',
  ],
  [
    'of a frame twice',
    (r) => (r.camera!.frames[2].frame = 1005),
    'camera.frames[2].frame must be used once a plate, and 1005 is there before',
  ],
  [
    'that leaves out the frame which the mask is carried from',
    (r) => (r.camera!.frames[0].pose = null),
    'camera.frames must hold the pose of frame 1004, as the mask is carried from there, and does not',
  ],
])('a camera %s is refused in one sentence', (_, edit, says) => {
  const result = moving()
  edit(result)
  expect(misfit(result)).toContain(says)
})

// Takes by names that tell them apart.
import { join } from 'node:path'
import { expect, test } from 'vitest'
import { namesApart } from '../../src/shot/names-apart.js'

const plate = (name: string, ...folders: string[]) => ({ name, folder: join('/', ...folders) })

test.each([
  [
    'named differently keep their names',
    [plate('kiosk.####.exr', 'a'), plate('wall.####.exr', 'b')],
    ['kiosk.####.exr', 'wall.####.exr'],
  ],
  [
    'of one name are told by their folders',
    [plate('q.####.exr', 'day', 'take-1'), plate('q.####.exr', 'day', 'take-2'), plate('wall.mov', 'day')],
    ['take-1/q.####.exr', 'take-2/q.####.exr', 'wall.mov'],
  ],
  [
    'whose folders are named alike, by the folders of those',
    [plate('q.####.exr', 'day-1', 'exr'), plate('q.####.exr', 'day-2', 'exr')],
    ['day-1/exr/q.####.exr', 'day-2/exr/q.####.exr'],
  ],
  ['that are one and the same stay so', [plate('q.mov', 'a'), plate('q.mov', 'a')], ['q.mov', 'q.mov']],
])('plates %s', (_, plates, names) => {
  expect(namesApart(plates)).toEqual(names)
})

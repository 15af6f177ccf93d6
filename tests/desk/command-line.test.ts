// The command that the desk shows and runs. Outside truth: a POSIX shell takes it apart into the same arguments.
import { execFileSync } from 'node:child_process'
import { expect, test } from 'vitest'
import { findArguments, patchArguments, typed } from '../../src/desk/command-line.js'
import { newShot } from '../../src/desk/shot-state.js'

const { asked, patch } = newShot('quay', '/plates/quay', 1001)
const masks = { region: '/out/quay/region-1.svg', avoid: null, lookIn: null }

test('a search asks for what is not taken anyhow, and nothing else', () => {
  const args = findArguments(
    '/plates/quay',
    { ...asked, frames: '1060-1069' },
    null,
    masks,
    '/out/quay/search-1',
  )
  expect(args).toEqual(['find', '/plates/quay', '--mask', masks.region, '--frames', '1060-1069', '--out', '/out/quay/search-1']) // biome-ignore format: one command
})

test('what only a borrow takes is left out of a hide, and the other way round', () => {
  const both = {
    ...asked,
    frames: '1-9',
    peak: 5,
    sign: 'darker',
    tries: ['hold-12'],
    offset: [-3, 4],
  } as const
  const lists = { ...both, tries: [...both.tries], offset: [-3, 4] as [number, number] }
  expect(findArguments('/p', lists, null, masks, '/o').join(' ')).toBe(
    'find /p --mask /out/quay/region-1.svg --frames 1-9 --try hold-12 --out /o',
  )
  expect(findArguments('/p', { ...lists, aim: 'borrow' }, null, masks, '/o').join(' ')).toBe(
    'find /p --mask /out/quay/region-1.svg --frames 1-9 --aim borrow --peak 5 --darker --offset=-3,4 --out /o',
  )
})

test('a patch asks for what is not taken anyhow', () => {
  expect(patchArguments('/o/search-1', 'hold-1184', patch, 'hide', '/o/search-1/patch').join(' ')).toBe(
    'patch /o/search-1 --pick hold-1184 --out /o/search-1/patch',
  )
  const more = { ...patch, nudge: [-0.5, 2] as [number, number], regrain: false, format: 'png' as const }
  expect(patchArguments('/o', 'hold-1', more, 'hide', '/x').join(' ')).toBe(
    'patch /o --pick hold-1 --format png --nudge=-0.5,2 --no-regrain --out /x',
  )
})

test('what is shown is what a shell would run', () => {
  const args = [
    'find',
    "/plates/the heron's wall/a b",
    '--frames',
    '1-9',
    '--donor',
    '$(x) `y` "z"',
    '--offset=-3,4',
  ]
  const shown = typed(args, '/elsewhere')
  const apart = execFileSync('sh', ['-c', `set -- ${shown.slice('offcut '.length)}; printf '%s\\n' "$@"`], {
    encoding: 'utf8',
  })
  expect(apart.trimEnd().split('\n')).toEqual(args)
})

test('paths below the folder that the desk was started in are written as they lie in it', () => {
  expect(typed(['find', '/shoot/plates/quay', '--out', '/elsewhere/x'], '/shoot')).toBe(
    'offcut find plates/quay --out /elsewhere/x',
  )
  expect(typed(['find', '/shooting/quay'], '/shoot')).toBe('offcut find /shooting/quay')
})

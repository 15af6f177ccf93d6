// What the lead decided, taken to the artist: patch and sheet with a decisions file.
import { existsSync, mkdtempSync, readFileSync, rmSync, writeFileSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { afterAll, beforeAll, expect, test } from 'vitest'
import { type Result, resultSchema } from '../../src/search/result.js'
import type { Choice } from '../../src/sheet/data/decisions.js'
import { searchFingerprint } from '../../src/sheet/data/fingerprint.js'
import { boxOf, plantMask, plantPlate } from '../synthetic.js'
import { BESIDE_FRAMES, cli, shownIn } from './cli.js'

const root = mkdtempSync(join(tmpdir(), 'offcut-decisions-'))
afterAll(() => rmSync(root, { recursive: true }))

let done: string
let result: Result
beforeAll(async () => {
  const plate = await plantPlate(join(root, 'plate'), { width: 96, height: 72, frames: 8 })
  done = join(root, 'done')
  const asked = ['--box', '38,26,20,20', '--frames', '1002-1003', '--reach', '4', '--surround', '12']
  await cli('find', plate.folder, ...asked, '--out', done)
  result = resultSchema.parse(JSON.parse(readFileSync(join(done, 'result.json'), 'utf8')))
}, 60_000)

function saved(name: string, choices: readonly Choice[], search = searchFingerprint(result)): string {
  const path = join(root, name)
  const { plate, first, last } = result.target
  const decisions = choices.map((decision, i) => ({
    candidate: result.candidates[i].id,
    decision,
    note: '',
    initials: 'H.K.',
    at: '2026-03-01T10:00:00.000Z',
  }))
  writeFileSync(path, JSON.stringify({ schema: 'offcut.decisions/1', search, plate, first, last, decisions }))
  return path
}

test('every accepted candidate becomes a patch, the others do not', async () => {
  const { code, stderr } = await cli(
    'patch',
    done,
    '--decisions',
    saved('two.json', ['accept', 'reject', 'accept']),
  )
  expect(code, stderr).toBe(0)
  const ids = result.candidates.map((c) => c.id)
  expect(shownIn(join(done, `patch-${ids[0]}`))).toHaveLength(2 + BESIDE_FRAMES.length)
  expect(existsSync(join(done, `patch-${ids[1]}`))).toBe(false)
  expect(shownIn(join(done, `patch-${ids[2]}`))).toHaveLength(2 + BESIDE_FRAMES.length)
})

test.each([
  { title: 'of another search', file: () => saved('other.json', ['accept'], '0000'), says: 'another search' },
  { title: 'that accepts nothing', file: () => saved('none.json', ['reject']), says: 'accepts a candidate' },
  { title: 'that is not there', file: () => join(root, 'nowhere.json'), says: 'nowhere.json' },
])('a file $title is refused', async ({ file, says }) => {
  const { code, stderr } = await cli('patch', done, '--decisions', file())
  expect(code).toBe(2)
  expect(stderr).toContain(says)
})

test('a pick beside a decisions file is refused', async () => {
  const both = ['--pick', result.candidates[0].id, '--decisions', saved('both.json', ['accept'])]
  const { code, stderr } = await cli('patch', done, ...both)
  expect(code).toBe(2)
  expect(stderr).toContain('got "both"')
})

test('the sheet opens with the decisions it is given', async () => {
  const { code, stderr } = await cli('sheet', done, '--decisions', saved('shown.json', ['accept']))
  expect(code, stderr).toBe(0)
  expect(readFileSync(join(done, 'sheet.html'), 'utf8')).toContain('H.K.')
}, 30_000)

test('a mask edited since is said with a pick, refused for what the lead accepted, and stands on the sheet', async () => {
  const mask = await plantMask(join(root, 'mask.png'), boxOf(38, 26, 20, 20), 96, 72)
  const again = join(root, 'masked')
  const asked = ['--mask', mask, '--frames', '1002-1003', '--reach', '4', '--surround', '12']
  await cli('find', join(root, 'plate'), ...asked, '--out', again)
  const made: Result = resultSchema.parse(JSON.parse(readFileSync(join(again, 'result.json'), 'utf8')))
  const decisions = saved('masked.json', ['accept'], searchFingerprint(made))
  await plantMask(mask, boxOf(38, 26, 21, 20), 96, 72)

  const refused = await cli('patch', again, '--decisions', decisions)
  expect(refused.code).toBe(2)
  expect(refused.stderr).toContain(`the mask ${mask} has changed since the search`)
  expect(refused.stderr).toContain('--pick')
  expect(shownIn(again)).toEqual(['candidates.csv', 'result.json', 'sheet.html', 'sheet.png'])

  const picked = await cli('patch', again, '--pick', made.candidates[0].id)
  expect(picked.code, picked.stderr).toBe(0)
  expect(picked.stderr).toContain(`warning: the mask ${mask} has changed since the search`)

  const drawn = await cli('sheet', again)
  expect(drawn.stderr).toContain('has changed since the search')
  expect(readFileSync(join(again, 'sheet.html'), 'utf8')).toContain(`the mask ${mask} has changed since`)
}, 60_000)

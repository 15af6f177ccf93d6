// What a shell and a script are told when something is not as it should be.
import { mkdirSync, mkdtempSync, renameSync, rmSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { afterAll, beforeAll, describe, expect, test } from 'vitest'
import { type Planted, plantPlate } from '../synthetic.js'
import { cli } from './cli.js'

const root = mkdtempSync(join(tmpdir(), 'offcut-words-'))
afterAll(() => rmSync(root, { recursive: true }))

const SMALL = { width: 96, height: 72 }
const BOX = ['--box', '38,26,20,20', '--surround', '12']
let plate: Planted
beforeAll(async () => {
  plate = await plantPlate(join(root, 'plate'), { ...SMALL, frames: 6 })
}, 60_000)

describe('with --json an error is one JSON object on stdout, and the sentence is on stderr', () => {
  const cases: { title: string; argv: () => string[]; code: string; says: string }[] = [
    {
      title: 'footage that is not there',
      argv: () => ['survey', join(root, 'nowhere'), '--json'],
      code: 'PLATE_NOT_FOUND',
      says: 'nowhere does not exist',
    },
    {
      title: 'frames that are not there',
      argv: () => ['find', plate.folder, ...BOX, '--frames', '2000', '--json', '--out', join(root, 'x')],
      code: 'FRAMES_OUTSIDE',
      says: '2000',
    },
    {
      title: 'an argument that is missing',
      argv: () => ['survey', '--json'],
      code: 'MISUSE',
      says: "'plate'",
    },
    {
      title: 'a misspelt option',
      argv: () => ['find', plate.folder, '--json', '--frame', '1001'],
      code: 'MISUSE',
      says: "'--frame'; did you mean --frames?",
    },
    { title: 'a misspelt command', argv: () => ['servey', 'x', '--json'], code: 'MISUSE', says: 'survey' },
  ]

  test.each(cases)('$title', async ({ argv, code, says }) => {
    const shown = await cli(...argv())
    expect(shown.code).toBe(2)
    const { error, ...rest } = JSON.parse(shown.stdout)
    expect(rest).toEqual({})
    expect(error).toEqual({ code, message: expect.stringContaining(says), exitCode: 2 })
    expect(shown.stderr).toContain(`offcut: ${error.message}\n`)
  })
})

describe('names of files can’t act on the terminal', () => {
  // A folder, a frame and a line end among them: sets red, and pretends to be a line of the survey.
  const NAME = 'wall\u001b[31m\ncamera  locked off\u202e'
  const ACTS = /[^\P{Cc}\n]|\p{Bidi_Control}|^camera {2}locked off/mu
  let hostile: string
  beforeAll(() => {
    hostile = join(root, NAME)
    mkdirSync(hostile)
  })

  test.each(['words', 'JSON', 'a result', 'an error'])(
    'in %s',
    async (where) => {
      const made = await plantPlate(join(root, `made-${where}`), { ...SMALL, frames: 4 })
      const folder = join(hostile, where)
      mkdirSync(folder)
      for (const frame of made.frames) renameSync(made.pathOf(frame), join(folder, `${NAME}.${frame}.png`))
      const find = ['find', folder, ...BOX, '--frames', '1001', '--out', join(root, `${where}-${NAME}`)]
      const argv = {
        words: ['survey', folder],
        JSON: ['survey', folder, '--json'],
        'a result': find,
        'an error': ['find', folder, ...BOX, '--frames', '7'],
      }[where]!
      const shown = await cli(...argv)
      expect(shown.code, shown.stderr).toBe(where === 'an error' ? 2 : 0)
      for (const text of [shown.stdout, shown.stderr]) expect(text).not.toMatch(ACTS)
      expect(shown.stdout + shown.stderr).toContain('wall\\u001b[31m')
      if (where === 'JSON') expect(JSON.parse(shown.stdout).name).toBe(`${NAME}.####.png`)
    },
    60_000,
  )
})

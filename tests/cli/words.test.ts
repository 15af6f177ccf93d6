// What a shell and a script are told when something is not as it should be.
import {
  copyFileSync,
  existsSync,
  mkdirSync,
  mkdtempSync,
  readFileSync,
  renameSync,
  rmSync,
  symlinkSync,
  writeFileSync,
} from 'node:fs'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { afterAll, beforeAll, describe, expect, test } from 'vitest'
import { boxOf, type Planted, plantMask, plantPlate } from '../synthetic.js'
import { cli, shownIn } from './cli.js'

const root = mkdtempSync(join(tmpdir(), 'offcut-words-'))
afterAll(() => rmSync(root, { recursive: true }))

test.each([
  ['a file', () => join(plate.folder, '..', 'desk-file'), 'is a file: choose another --out'],
  ['among the frames of a plate', () => join(shot.folder, 'desk'), 'nothing is ever written'],
])('a desk whose folder would be %s is refused before anything is made', async (_, at, says) => {
  const out = at()
  if (says.startsWith('is a file')) writeFileSync(out, 'kept')
  const { code, stderr } = await cli('desk', '--no-open', '--out', out)
  expect(stderr).toContain(says)
  expect(code).toBeGreaterThan(0)
  expect(existsSync(join(shot.folder, 'desk'))).toBe(false)
})

const SMALL = { width: 96, height: 72 }
const BOX = ['--box', '38,26,20,20', '--surround', '12']
let plate: Planted
let shot: Planted
beforeAll(async () => {
  plate = await plantPlate(join(root, 'plate'), { ...SMALL, frames: 6 })
  shot = await plantPlate(join(root, 'shot'), { ...SMALL, frames: 12 })
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
      says: "'--frame'; did you mean --frames? (offcut find --help lists its options)",
    },
    ...(
      [
        ['find', '--aim', 'borow', 'hide, borrow', 'borrow'],
        ['find', '--mask-fit', 'center', 'same, centre, scale', 'centre'],
        ['patch', '--feather-side', 'insid', 'outside, inside, both', 'inside'],
        ['patch', '--format', 'tiff', 'exr, png, tif', 'tif'],
      ] as const
    ).map(([command, flag, name, names, meant]) => ({
      title: `a misspelt name of ${flag}`,
      argv: () => [command, plate.folder, '--json', flag, name],
      code: 'MISUSE',
      says: `${flag} takes one of ${names}, got "${name}"; did you mean ${meant}?`,
    })),
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

describe('a result', () => {
  let result: string
  const file = () => join(result, 'result.json')
  const stored = () => JSON.parse(readFileSync(file(), 'utf8'))
  beforeAll(async () => {
    result = join(root, 'result')
    const found = await cli(
      'find',
      plate.folder,
      ...BOX,
      '--frames',
      '1002-1003',
      '--keep',
      '2',
      '--out',
      result,
    )
    expect(found.code, found.stderr).toBe(0)
  }, 60_000)

  test('named by its file is the folder that it lies in', async () => {
    const id = stored().candidates[0].id
    const patch = await cli('patch', file(), '--pick', id)
    expect(patch.code, patch.stderr).toBe(0)
    const frames = shownIn(join(result, `patch-${id}`)).filter((name) => name.endsWith('.exr'))
    expect(frames).toEqual(['quay_patch.1002.exr', 'quay_patch.1003.exr'])
    const sheet = await cli('sheet', file())
    expect(sheet.code, sheet.stderr).toBe(0)
    expect(sheet.stdout).toContain(join(result, 'sheet.html'))
  }, 60_000)

  test('in a folder that is called like a file is found there', async () => {
    const folder = join(root, 'take.json')
    mkdirSync(folder)
    copyFileSync(file(), join(folder, 'result.json'))
    const { code, stderr } = await cli('patch', folder, '--pick', stored().candidates[0].id)
    expect(code, stderr).toBe(0)
    expect(existsSync(join(folder, `patch-${stored().candidates[0].id}`))).toBe(true)
  }, 60_000)

  // biome-ignore lint/suspicious/noExplicitAny: a result that is none
  type Edit = (result: any) => unknown
  const edits: { title: string; edit: Edit; says: string }[] = [
    {
      title: 'a word for a number',
      edit: (r) => (r.target.width = 'wide'),
      says: 'target.width must be a number, and is "wide"',
    },
    {
      title: 'nothing for a number',
      edit: (r) => (r.candidates[1].frames[0].dx = null),
      says: 'candidates[1].frames[0].dx must be a number, and is null',
    },
    {
      title: 'an entry taken out',
      edit: (r) => delete r.region.surround,
      says: 'region.surround is missing; it must be a number',
    },
    {
      title: 'an entry put in',
      edit: (r) => (r.candidates[0].note = 'good'),
      says: 'candidates[0] has unknown entries: note',
    },
    {
      title: 'a score of 101',
      edit: (r) => (r.candidates[0].score = 101),
      says: 'candidates[0].score must be at most 100, and is 101',
    },
    {
      title: 'no frames',
      edit: (r) => r.candidates[0].frames.splice(0),
      says: 'candidates[0].frames must be at least 1 entries, and is []',
    },
    {
      title: 'an unknown verdict',
      edit: (r) => (r.candidates[0].verdict = 'fine'),
      says: 'candidates[0].verdict must be one of holds up, needs work, will not hold, and is "fine"',
    },
    {
      title: 'another version',
      edit: (r) => (r.schema = 'offcut.result/9'),
      says: 'schema must be "offcut.result/1", and is "offcut.result/9"',
    },
    { title: 'a list instead', edit: () => [], says: 'the file must be of type object, and is []' },
    {
      title: 'a donor that is none',
      edit: (r) => (r.candidates[0].donor = 4),
      says: 'candidates[0].donor must be an index into the 1 donors, 0 to 0, and is 4',
    },
    {
      title: 'a frame’s donor that is none',
      edit: (r) => (r.candidates[0].frames[1].plate = 2),
      says: 'candidates[0].frames[1].plate must be an index',
    },
    {
      title: 'a foreign target frame',
      edit: (r) => (r.candidates[0].frames[1].target = 1077),
      says: "candidates[0].frames[1].target must be one of the target's frames 1002-1003, and is 1077",
    },
    {
      title: 'a frame twice',
      edit: (r) => (r.candidates[0].frames[1].target = 1002),
      says: 'candidates[0].frames[1].target must be used once',
    },
    {
      title: 'a negative gain',
      edit: (r) => (r.candidates[0].frames[0].gain = [1, -1, 1]),
      says: 'gain must be at least 0, and is [1, -1, 1]',
    },
    {
      title: 'a cut on a foreign frame',
      edit: (r) =>
        (r.cuts = [{ side: 'left', open: false, frames: [{ frame: 1077, px: 3, box: [1, 1, 3, 3] }] }]),
      says: "cuts[0].frames[0].frame must be one of the target's frames 1002-1003, and is 1077",
    },
    {
      title: 'a box beyond the plate',
      edit: (r) => (r.region.box = [90, 26, 20, 20]),
      says: "region.box must lie inside the plate's 96 x 72, and is 90,26,20,20",
    },
    {
      title: 'one id twice',
      edit: (r) => (r.candidates[1].id = r.candidates[0].id),
      says: 'candidates[1].id must be used once',
    },
    {
      title: 'a matrix with a row missing',
      edit: (r) => r.matrix.quality.pop(),
      says: 'matrix.quality must be a row for each of 2 targets, and is 1',
    },
    { title: 'another aim', edit: (r) => (r.aim = 'borrow'), says: 'borrow is missing' },
  ]

  test.each(edits)(
    'edited by hand is refused with the place and both values: $title',
    async ({ edit, says }) => {
      const folder = join(root, 'edited')
      mkdirSync(folder, { recursive: true })
      const before = stored()
      const id = before.candidates[0].id
      const edited = edit(before)
      writeFileSync(
        join(folder, 'result.json'),
        JSON.stringify(Array.isArray(edited) && edited.length === 0 ? edited : before),
      )
      const { code, stderr } = await cli('patch', folder, '--pick', id)
      expect(stderr).toContain(`${join(folder, 'result.json')} is not a result as offcut find writes it (`)
      expect(stderr).toContain(says)
      expect(stderr.trimEnd().split('\n')).toHaveLength(1)
      expect(code).toBe(2)
      expect(shownIn(folder)).toEqual(['result.json'])
    },
  )
})

test('a mask that is not there is told as the mask, with the name that was meant or those that are there', async () => {
  const masks = join(root, 'masks')
  mkdirSync(masks)
  await plantMask(join(masks, 'porter.png'), boxOf(38, 26, 9, 9), 96, 72)
  const find = (mask: string) =>
    cli('find', plate.folder, '--mask', join(masks, mask), '--frames', '1001', '--out', join(root, 'none'))
  const near = await find('potrer.png')
  expect(near.code).toBe(2)
  expect(near.stderr).toContain(
    `the mask ${join(masks, 'potrer.png')} does not exist: did you mean porter.png?`,
  )
  const far = await find('kiosk.svg')
  expect(far.stderr).toContain('does not exist: its folder holds porter.png')
  expect(existsSync(join(root, 'none'))).toBe(false)
})

describe('a plate that is too small for the defaults', () => {
  let tiny: Planted
  beforeAll(async () => {
    tiny = await plantPlate(join(root, 'tiny'), { width: 30, height: 24, frames: 5 })
  })

  test('is searched with what it allows', async () => {
    const out = join(root, 'tiny-out')
    const { code, stderr } = await cli(
      'find',
      tiny.folder,
      '--box',
      '10,8,6,6',
      '--frames',
      '1002',
      '--out',
      out,
    )
    expect(code, stderr).toBe(0)
    const { reach, region } = JSON.parse(readFileSync(join(out, 'result.json'), 'utf8'))
    expect({ reach, surround: region.surround }).toEqual({ reach: 12, surround: 12 })
  }, 60_000)

  test.each(['--reach', '--surround'])(
    'refuses a %s that was asked for, with the largest allowed',
    async (flag) => {
      const { code, stderr } = await cli(
        'find',
        tiny.folder,
        '--box',
        '10,8,6,6',
        '--frames',
        '1002',
        flag,
        '16',
        '--out',
        join(root, 'no'),
      )
      expect(code).toBe(2)
      expect(stderr).toMatch(
        new RegExp(`${flag} takes whole pixels from \\d to 12 on this plate of 30 x 24, got 16`),
      )
    },
  )

  test('a patch’s default feather gives way to a narrow surround', async () => {
    const out = join(root, 'narrow')
    const found = await cli(
      'find',
      tiny.folder,
      '--box',
      '10,8,6,6',
      '--frames',
      '1002',
      '--surround',
      '3',
      '--out',
      out,
    )
    expect(found.code, found.stderr).toBe(0)
    const id = JSON.parse(readFileSync(join(out, 'result.json'), 'utf8')).candidates[0].id
    const { code, stderr } = await cli('patch', out, '--pick', id)
    expect(code, stderr).toBe(0)
  }, 60_000)
})

test.each(['--box', '--look-in'])(
  'a %s half outside the frame is refused with both sizes and its part inside',
  async (flag) => {
    const aim = flag === '--box' ? [] : ['--box', '38,26,20,20', '--aim', 'borrow']
    const { code, stderr } = await cli(
      'find',
      plate.folder,
      ...aim,
      flag,
      '80,60,30,30',
      '--surround',
      '12',
      '--frames',
      '1001',
      '--out',
      join(root, 'no'),
    )
    expect(code).toBe(2)
    for (const piece of [flag, '96 x 72', '80,60,16,12', '"80,60,30,30"']) expect(stderr).toContain(piece)
  },
)

test('a drawn shape that leaves the frame is taken as far as the frame goes', async () => {
  const svg = join(root, 'leaves.svg')
  writeFileSync(
    svg,
    '<svg xmlns="http://www.w3.org/2000/svg" width="96" height="72"><rect x="70" y="20" width="60" height="20" fill="#fff"/></svg>',
  )
  const out = join(root, 'leaves')
  const { code, stderr } = await cli(
    'find',
    plate.folder,
    '--mask',
    svg,
    '--surround',
    '12',
    '--frames',
    '1001',
    '--out',
    out,
  )
  expect(code, stderr).toBe(0)
  expect(JSON.parse(readFileSync(join(out, 'result.json'), 'utf8')).region.box).toEqual([70, 20, 26, 20])
  expect(stderr).toContain('touches the right')
}, 60_000)

test.each([
  ['find', 'plate'],
  ['patch', 'result'],
  ['demo', null],
])('%s --out with an empty name, such as an unset variable’s, is refused', async (command, argument) => {
  const { code, stderr } = await cli(
    command,
    ...(argument === null ? [] : [argument]),
    '--out',
    '',
    '--overwrite',
  )
  expect(code).toBe(2)
  expect(stderr).toContain('--out takes the name of a folder, got ""')
})

test('--out in a folder called ~, which no shell has put the home folder in place of, is refused', async () => {
  for (const given of ['~/results', '~']) {
    const { code, stderr } = await cli('find', plate.folder, ...BOX, '--frames', '1003', '--out', given)
    expect(code).toBe(2)
    expect(stderr).toContain(`in the place of ~, got "${given}"`)
  }
})

test('a link that leads nowhere is told as one, and no other name is suggested', async () => {
  const link = join(root, 'leads-nowhere')
  symlinkSync(join(root, 'gone'), link)
  const { code, stderr } = await cli('survey', link)
  expect(code).toBe(2)
  expect(stderr).toContain(`${link} is neither a file nor a folder`)
  expect(stderr).not.toContain('did you mean')
})

test('a file that holds no decisions is a misuse', async () => {
  const other = join(root, 'other.json')
  writeFileSync(other, '{"schema":"offcut.result/1"}')
  const { code, stderr } = await cli('patch', join(root, 'result'), '--decisions', other)
  expect(code, stderr).toBe(2)
  expect(stderr).toContain('offcut.decisions/1')
})

test('an empty --mask is told as such', async () => {
  const { code, stderr } = await cli(
    'find',
    plate.folder,
    '--mask',
    '',
    '--frames',
    '1001',
    '--out',
    join(root, 'no'),
  )
  expect(code).toBe(2)
  expect(stderr).toContain('--mask takes a mask file or sequence, got ""')
})

// Commands as a shell sees them: exit code, stdout, stderr, files.
import { execFileSync } from 'node:child_process'
import {
  cpSync,
  existsSync,
  mkdirSync,
  mkdtempSync,
  readdirSync,
  readFileSync,
  renameSync,
  rmSync,
  statSync,
  writeFileSync,
} from 'node:fs'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { afterAll, beforeAll, describe, expect, test } from 'vitest'
import { KEEP, REACH_PX, SURROUND_PX } from '../../src/defaults.js'
import { openRepair } from '../../src/repair/repair.js'
import type { Result } from '../../src/search/result.js'
import { resultSchema } from '../../src/search/result.js'
import { outcome } from '../../src/sheet/data/words.js'
import { writeResultSheet } from '../../src/sheet/result-folder.js'
import { boxOf, type Planted, plantMask, plantPlate } from '../synthetic.js'
import { BESIDE_FRAMES, cli, type Shown, shownIn } from './cli.js'

const root = mkdtempSync(join(tmpdir(), 'offcut-cli-'))
afterAll(() => rmSync(root, { recursive: true }))

const SMALL = { width: 96, height: 72 }
const BOX = '38,26,20,20'
let plate: Planted
/** A finished result of the plate. */
let done: string
let found: Shown
beforeAll(async () => {
  plate = await plantPlate(join(root, 'plate'), {
    ...SMALL,
    frames: 10,
    sway: (i) => [0.8 * Math.sin(i), 0.5 * Math.cos(2 * i)],
    occluders: (i) => (i < 4 ? [{ x: 40 + i, y: 28, w: 12, h: 14, light: 0.03 }] : []),
  })
  done = join(root, 'done')
  found = await find('--out', done, '--keep', '3')
}, 60_000)

function find(...more: string[]): Promise<Shown> {
  const options = ['--box', BOX, '--frames', '1002-1003', '--reach', '4', '--surround', '12']
  return cli('find', plate.folder, ...options, ...more)
}

/** Name, size and time of every file: what must not change. */
function inventory(folder: string): string[] {
  return readdirSync(folder, { recursive: true, encoding: 'utf8' })
    .sort()
    .map((name) => {
      const { size, mtimeMs } = statSync(join(folder, name))
      return `${name} ${size} ${mtimeMs}`
    })
}

describe('find', () => {
  test('ends well and leaves the four files of a result, and nothing else', () => {
    expect(found.code, found.stderr).toBe(0)
    expect(shownIn(done)).toEqual(['candidates.csv', 'result.json', 'sheet.html', 'sheet.png'])
  })

  test('writes a result that the schema takes', () => {
    const result = resultSchema.parse(JSON.parse(readFileSync(join(done, 'result.json'), 'utf8')))
    expect(result.candidates.length).toBeGreaterThan(0)
    expect(result.target.frames).toEqual([1002, 1003])
  })

  test('writes a row of the CSV for each candidate, the best first', () => {
    const result = JSON.parse(readFileSync(join(done, 'result.json'), 'utf8'))
    const lines = readFileSync(join(done, 'candidates.csv'), 'utf8').trimEnd().split('\r\n')
    expect(lines[0].split(',').slice(0, 3)).toEqual(['rank', 'id', 'kind'])
    const ids = lines.slice(1).map((line) => line.split(',')[1])
    expect(ids).toEqual(result.candidates.map((c: { id: string }) => c.id))
  })

  test('prints the candidates, where the sheet is and what to type next', () => {
    const result = JSON.parse(readFileSync(join(done, 'result.json'), 'utf8')) as Result
    const { candidates } = result
    expect(found.stdout.split('\n')).toContain(outcome(result))
    for (const { id, verdict } of candidates) {
      expect(found.stdout).toContain(id)
      expect(found.stdout).toContain(verdict)
    }
    expect(found.stdout).toContain(join(done, 'sheet.html'))
    expect(found.stdout).toContain(`offcut patch ${done} --pick ${candidates[0].id}`)
  })

  test('what it prints to be typed next runs as it stands, also where a folder has a space in its name', async () => {
    const out = join(root, 'for the lead’s "yes"')
    const { stdout, code, stderr } = await find('--out', out, '--keep', '1')
    expect(code, stderr).toBe(0)
    const line = stdout.match(/^patch {3}offcut (.*)$/m)![1]
    // The shell itself says which words it takes from it.
    const words = execFileSync('/bin/sh', ['-c', `printf '%s\\n' ${line}`], { encoding: 'utf8' })
    expect(words.trimEnd().split('\n').slice(0, 3)).toEqual(['patch', out, '--pick'])
  })

  test('piped is quiet: a plain line per phase on stderr, no cursor movement, no colour', () => {
    expect(found.stderr).toContain('reading: 10 frames\n')
    expect(found.stderr.split('\n').length).toBeLessThan(10)
    for (const text of [found.stdout, found.stderr]) {
      expect(text).not.toContain('\r')
      expect(text).not.toContain('\u001b')
    }
  })

  test('with --json prints the result and nothing else on stdout', async () => {
    const { code, stdout } = await find('--json', '--keep', '1', '--out', join(root, 'json'))
    expect(code).toBe(0)
    const printed = resultSchema.parse(JSON.parse(stdout))
    expect(printed).toEqual(JSON.parse(readFileSync(join(root, 'json', 'result.json'), 'utf8')))
  }, 20_000)

  test('names a corrupt frame in the middle and goes on without it', async () => {
    const ill = await plantPlate(join(root, 'ill'), { ...SMALL, frames: 9 })
    const bytes = readFileSync(ill.pathOf(1005))
    writeFileSync(ill.pathOf(1005), bytes.subarray(0, bytes.length >> 1))
    const options = ['--box', BOX, '--frames', '1001', '--reach', '4', '--surround', '12', '--keep', '1']
    const { code, stderr, stdout } = await cli('find', ill.folder, ...options, '--out', join(root, 'ill-out'))
    expect(code, stderr).toBe(0)
    expect(stderr).toContain(`warning: ${ill.pathOf(1005)}`)
    expect(stderr).toContain('left out of the search')
    expect(stdout).toMatch(/^(hold|run|stack)\S+ +\d/m)
  }, 20_000)
})

test('a candidate that is asked for is marked on the terminal, in the CSV and on the sheet', async () => {
  const out = join(root, 'tried')
  const { code, stdout, stderr } = await find(
    '--out',
    out,
    '--keep',
    '1',
    '--try',
    'hold-1001',
    '--try',
    'run+4',
  )
  expect(code, stderr).toBe(0)
  expect(stdout).toContain('hold-1001, asked for')
  expect(stdout).toContain('run+4, asked for')
  expect(readFileSync(join(out, 'candidates.csv'), 'utf8')).toMatch(/,hold-1001,hold,.*,yes,/)
  const page = readFileSync(join(out, 'sheet.html'), 'utf8')
  expect(page.match(/<span class="asked">asked for<\/span>/g)).toHaveLength(2)
}, 30_000)

describe('patch', () => {
  test('says what it wrote in lines broken between words, on a terminal of 60 columns', async () => {
    const { isTTY, columns } = process.stdout
    Object.assign(process.stdout, { isTTY: true, columns: 60 })
    try {
      const { code, stdout } = await cli('patch', done, '--pick', best(), '--out', join(root, 'narrow'))
      expect(code).toBe(0)
      const lines = stdout.trimEnd().split('\n')
      // A path alone may be longer than the window.
      for (const line of lines) if (!line.includes(root)) expect(line.length, line).toBeLessThanOrEqual(60)
      expect(lines.join(' ')).toMatch(
        / patches of .* in .*narrow: quay_patch\.\d+\.exr to quay_patch\.\d+\.exr/,
      )
      expect(lines.length).toBeGreaterThan(2)
    } finally {
      Object.assign(process.stdout, { isTTY, columns })
    }
  })

  const best = () => JSON.parse(readFileSync(join(done, 'result.json'), 'utf8')).candidates[0].id as string

  test('writes the picked candidate into a folder of its own, and says which frames', async () => {
    const { code, stdout, stderr } = await cli('patch', done, '--pick', best())
    expect(code, stderr).toBe(0)
    const folder = join(done, `patch-${best()}`)
    expect(shownIn(folder)).toEqual([...BESIDE_FRAMES, 'quay_patch.1002.exr', 'quay_patch.1003.exr'])
    expect(stdout).toContain(folder)
    expect(stdout).toContain('quay_patch.1002.exr to quay_patch.1003.exr')
    expect(stdout.split('\n')).toContain(`check   ${join(folder, 'check.html')}`)
  })

  test('of which nothing is picked names one that may be', async () => {
    const { code, stderr } = await cli('patch', done)
    expect(code).toBe(2)
    for (const piece of ['--pick', `such as ${best()},`, '--decisions', 'neither'])
      expect(stderr).toContain(piece)
  })

  test('writes whole frames, and PNG patches, on request', async () => {
    expect((await cli('patch', done, '--pick', best(), '--whole')).code).toBe(0)
    expect(shownIn(join(done, `repaired-${best()}`))).toEqual([
      ...BESIDE_FRAMES,
      'quay_repaired.1002.png',
      'quay_repaired.1003.png',
    ])
    const out = join(root, 'png')
    expect((await cli('patch', done, '--pick', best(), '--format', 'png', '--out', out)).code).toBe(0)
    expect(shownIn(out)).toEqual([...BESIDE_FRAMES, 'quay_patch.1002.png', 'quay_patch.1003.png'])
  })

  test('with the donor moved by hand is another patch, and the terminal says by how much it was moved', async () => {
    const [here, there] = [join(root, 'found'), join(root, 'nudged')]
    expect((await cli('patch', done, '--pick', best(), '--out', here)).code).toBe(0)
    const { code, stdout, stderr } = await cli(
      'patch',
      done,
      '--pick',
      best(),
      '--nudge',
      '-1.5,2',
      '--out',
      there,
    )
    expect(code, stderr).toBe(0)
    expect(stdout).toContain(`of ${best()}, moved by hand by -1.5, 2 px, in ${there}`)
    const name = 'quay_patch.1002.exr'
    expect(readFileSync(join(there, name)).equals(readFileSync(join(here, name)))).toBe(false)
  })

  test('of a frame that the result does not list is the patch of a search that was asked for it', async () => {
    const [listed, tried] = [join(root, 'any-frame'), join(root, 'tried-frame')]
    const { code, stderr } = await cli('patch', done, '--pick', 'hold-1001', '--out', listed)
    expect(code, stderr).toBe(0)
    expect(stderr).toContain('note: hold-1001 is no row of the result: the search is run again for it')
    expect((await find('--out', tried, '--try', 'hold-1001')).code).toBe(0)
    expect((await cli('patch', tried, '--pick', 'hold-1001')).code).toBe(0)
    for (const name of ['quay_patch.1002.exr', 'quay_patch.1003.exr'])
      expect(
        readFileSync(join(listed, name)).equals(readFileSync(join(tried, 'patch-hold-1001', name))),
      ).toBe(true)
  }, 30_000)

  test.each([
    [
      'has nowhere to be written',
      () => ['--out', join(done, 'result.json', 'below')],
      1,
      'its folder is a file',
    ],
    ['would lie in the footage', () => ['--out', join(plate.folder, 'patch')], 2, 'nothing is ever written'],
    ['asks for a ratio', () => ['--ratio'], 2, '--ratio takes a candidate found with --aim borrow'],
    ['has a feather that is too wide', () => ['--feather', '900'], 2, "--feather takes 0 to the surround's"],
    ['is moved too far', () => ['--nudge', '900,0'], 2, '--nudge takes dx,dy in pixels'],
  ] as const)('that %s is refused before anything is searched for', async (_, flags, exit, says) => {
    for (const made of [
      ['--pick', 'hold-1001'],
      ...(flags()[0] === '--out' || flags()[0] === '--feather' ? [['--clean']] : []),
    ]) {
      const { code, stderr } = await cli('patch', done, ...made, ...flags())
      expect(code, stderr).toBe(exit)
      expect(stderr).toContain(says)
      expect(stderr).not.toContain('reading')
      expect(stderr).not.toContain('the search is run again')
    }
  })

  test('refuses to write over an earlier patch, and does on request', async () => {
    const out = join(root, 'twice')
    expect((await cli('patch', done, '--pick', best(), '--out', out)).code).toBe(0)
    const before = inventory(out)
    const again = await cli('patch', done, '--pick', best(), '--out', out)
    expect(again.code).toBe(1)
    expect(again.stderr).toContain(out)
    expect(again.stderr).toContain('--overwrite')
    expect(inventory(out)).toEqual(before)
    expect((await cli('patch', done, '--pick', best(), '--out', out, '--overwrite')).code).toBe(0)
  })
})

describe('sheet', () => {
  test('draws the sheet again, the same bytes', async () => {
    const before = readFileSync(join(done, 'sheet.png'))
    writeFileSync(join(done, 'sheet.png'), 'lost')
    const { code, stderr } = await cli('sheet', done)
    expect(code, stderr).toBe(0)
    expect(readFileSync(join(done, 'sheet.png')).equals(before)).toBe(true)
  }, 20_000)

  test('with --index writes one page over several beside them, and prints where', async () => {
    const show = join(root, 'show')
    for (const name of ['sh010', 'sh020']) cpSync(done, join(show, name), { recursive: true })
    const shown = await cli('sheet', join(show, 'sh010'), join(show, 'sh020'), '--index')
    expect(shown.code, shown.stderr).toBe(0)
    expect(shown.stdout).toBe(`index   ${join(show, 'index.html')}\n`)
    expect(readFileSync(join(show, 'index.html'), 'utf8')).toContain('<h1>2 shots</h1>')
    expect(shownIn(show)).toEqual(['index.html', 'sh010', 'sh020'])
  })

  test.each([
    { argv: ['--index', '--pdf'], says: '--index takes the sheets as they are, got' },
    { argv: ['--index', '--decisions', 'd.json'], says: '--index takes the sheets as they are, got' },
    { argv: ['the same', '--decisions', 'd.json'], says: '--decisions takes one result at a time' },
    { argv: ['the same', '--index'], says: '--index takes each result once' },
  ])('is misused as $argv', async ({ argv, says }) => {
    const { code, stderr } = await cli(
      'sheet',
      done,
      ...argv.map((word) => (word === 'the same' ? done : word)),
    )
    expect(code).toBe(2)
    expect(stderr).toContain(says)
  })

  test('stops at once when the run is called off', async () => {
    const result = resultSchema.parse(JSON.parse(readFileSync(join(done, 'result.json'), 'utf8')))
    const reason = new Error('called off')
    const job = await openRepair(result)
    await expect(
      writeResultSheet(join(root, 'off'), job, { signal: AbortSignal.abort(reason) }),
    ).rejects.toBe(reason)
  })
})

describe('survey', () => {
  test('says what the footage is, in words and as JSON', async () => {
    const words = await cli('survey', plate.folder)
    expect(words.code).toBe(0)
    for (const piece of [
      'quay.####.png',
      '10, 1001 to 1010',
      '96 x 72',
      '16-bit',
      'srgb',
      'none',
      'moves over',
    ])
      expect(words.stdout).toContain(piece)
    const json = JSON.parse((await cli('survey', plate.folder, '--json')).stdout)
    expect(json).toMatchObject({ first: 1001, last: 1010, width: 96, height: 72, gaps: [], repeated: [] })
    expect(json.frames).toHaveLength(10)
  })

  test('of a single frame tells nothing of what changes from frame to frame', async () => {
    const { folder } = await plantPlate(join(root, 'single'), { width: 96, height: 72, frames: 1 })
    const { code, stdout, stderr } = await cli('survey', folder)
    expect(code).toBe(0)
    expect(stderr).toContain('surveying: 1 frame\n')
    expect(stdout).toMatch(/frames +1, 1001\n/)
    expect(stdout).toMatch(/grain +0\.\d+ stops\n/)
    expect(stdout).toContain('one frame tells of no change')
    expect(stdout).toContain('one frame tells of no movement')
    expect(stdout).not.toMatch(/locked off|between the darkest/)
  })

  test('names frames that a broken render left by their numbers, and why the first', async () => {
    const broken = await plantPlate(join(root, 'broken'), { width: 96, height: 72, frames: 9 })
    for (const number of [1003, 1004, 1007]) writeFileSync(broken.pathOf(number), '')
    const { stdout } = await cli('survey', broken.folder)
    expect(stdout).toMatch(/unreadable +1003-1004, 1007\n/)
    expect(stdout).toContain(`the first: ${broken.pathOf(1003)} can't be read (the file is empty)`)
  })

  test('names a gap of a billion frames without counting it out', async () => {
    const { folder } = await plantPlate(join(root, 'far'), { width: 96, height: 72, frames: 2 })
    const [one, two] = readdirSync(folder).sort()
    renameSync(join(folder, one), join(folder, 'far.000000000001.png'))
    renameSync(join(folder, two), join(folder, 'far.999999999999.png'))
    const { code, stdout, stderr } = await cli('survey', folder)
    expect(code, stderr).toBe(0)
    expect(stdout).toContain('2-999999999998')
  })
})

test('help ends with what to type first, in commands and options that there are', async () => {
  const { stdout } = await cli('--help')
  const steps = stdout.split('To begin with:\n')[1]!.trimEnd().split('\n')
  expect(steps.map((line) => line.trim().split(' ')[1])).toEqual(['desk', 'find', 'patch'])
  for (const step of steps) {
    const help = (await cli(step.trim().split(' ')[1]!, '--help')).stdout
    for (const flag of step.match(/--[a-z]+/g) ?? []) expect(help).toContain(`  ${flag} `)
  }
}, 20_000)

test('no command touches the plate’s folder', async () => {
  const before = inventory(plate.folder)
  await find('--out', join(root, 'untouched'), '--keep', '1')
  await cli('survey', plate.folder)
  await find('--out', plate.folder)
  await find('--out', join(plate.folder, 'below'), '--overwrite')
  expect(inventory(plate.folder)).toEqual(before)
}, 20_000)

describe('what is wrong is said in one sentence, with the file and both values', () => {
  let n = 0
  type Case = { title: string; argv: () => string[] | Promise<string[]>; code?: 1 | 2; says: string[] }
  const asked = (...more: string[]) => [
    'find',
    plate.folder,
    '--frames',
    '1002',
    '--reach',
    '4',
    '--surround',
    '12',
    ...more,
  ]
  const nowhere = join(root, 'nowhere')
  const mask = join(root, 'm.png')
  const cases: Case[] = [
    {
      title: 'a folder that is not there',
      argv: () => ['find', nowhere, '--box', BOX, '--frames', '1-2'],
      says: [nowhere, 'does not exist'],
    },
    {
      title: 'a folder without frames',
      argv: () => {
        mkdirSync(join(root, 'bare'), { recursive: true })
        return ['survey', join(root, 'bare')]
      },
      says: [join(root, 'bare'), 'no frames', 'png'],
    },
    {
      title: 'a range outside the plate',
      argv: () => ['find', plate.folder, '--box', BOX, '--frames', '1009-1014'],
      says: ['1011-1014', 'quay.####.png', '1001-1010'],
    },
    {
      title: 'frame 0',
      argv: () => ['find', plate.folder, '--box', BOX, '--frames', '0'],
      says: ['frame 0 lies outside', '1001-1010'],
    },
    {
      title: 'a range that is none',
      argv: () => ['find', plate.folder, '--box', BOX, '--frames', 'ten'],
      says: ['--frames', '"ten"', '1001-1024'],
    },
    {
      title: 'donor frames that are not there',
      argv: () => asked('--box', BOX, '--donor-frames', '1-9'),
      says: ['--donor-frames', 'quay.####.png has 1001-1010'],
    },
    {
      title: 'a box grown further than half the plate',
      argv: () => [...asked('--box', BOX), '--grow', '40'],
      says: ['--grow', 'from -36 to 36', '96 x 72', '40'],
    },
    {
      title: 'a box shrunk to nothing',
      argv: () => [...asked('--box', BOX), '--grow', '-10'],
      says: ['--grow -10 leaves nothing of the mask'],
    },
    {
      title: 'a candidate to try that is past the end',
      argv: () => asked('--box', BOX, '--try', 'hold-1099'),
      says: ['--try hold-1099 needs frame 1099', '1001-1010'],
    },
    {
      title: 'a candidate to try with the aim borrow',
      argv: () => asked('--box', BOX, '--aim', 'borrow', '--try', 'hold-1009'),
      says: ['--try', '--aim hide only'],
    },
    {
      title: 'no frame left that may lend',
      argv: () => asked('--box', BOX, '--not-frames', '1001-1010'),
      says: ['--not-frames', 'no frame that may lend'],
    },
    {
      title: 'a mask that is not there',
      argv: () => asked('--mask', join(nowhere, 'm.png')),
      says: [join(nowhere, 'm.png'), 'does not exist'],
    },
    {
      title: 'a mask that is plainly a scale of the plate',
      argv: async () => asked('--mask', await plantMask(mask, boxOf(5, 5, 9, 9), 48, 36)),
      says: [mask, '48 x 36', '96 x 72', '--mask-fit scale'],
    },
    {
      title: 'a mask that is plainly a centred extraction',
      argv: async () => asked('--mask', await plantMask(mask, boxOf(5, 5, 9, 9), 96, 54)),
      says: [mask, '96 x 54', '96 x 72', '--mask-fit centre'],
    },
    {
      title: 'a mask of another size altogether',
      argv: async () => asked('--mask', await plantMask(mask, boxOf(5, 5, 9, 9), 50, 44)),
      says: [mask, '50 x 44', '96 x 72', 'full size'],
    },
    {
      title: 'an empty mask',
      argv: async () => asked('--mask', await plantMask(mask, () => 0, 96, 72)),
      says: [mask, 'black all over', 'white'],
    },
    {
      title: 'a mask over everything',
      argv: async () => asked('--mask', await plantMask(mask, () => 1, 96, 72)),
      says: ['mask', '96 x 72', 'smaller'],
    },
    {
      title: 'a mask sequence that misses a frame',
      argv: async () => {
        const folder = join(root, 'masks')
        mkdirSync(folder, { recursive: true })
        for (const f of [1001, 1002]) await plantMask(join(folder, `m.${f}.png`), boxOf(38, 26, 9, 9), 96, 72)
        return ['find', plate.folder, '--mask', folder, '--frames', '1001-1004']
      },
      says: [join(root, 'masks'), 'frames 1003-1004', '1001-1002', '--frames'],
    },
    {
      title: 'neither a region nor frames',
      argv: () => ['find', plate.folder],
      says: ['region', 'target frames', '--mask', '--box', '--frames 1001-1024'],
    },
    {
      title: 'a region without frames',
      argv: () => ['find', plate.folder, '--box', BOX],
      says: ['find needs the target frames: add --frames, such as --frames 1001-1024'],
    },
    {
      title: 'neither a mask nor a box',
      argv: () => asked(),
      says: ['--mask', '--box', 'neither'],
    },
    {
      title: 'a box that is none',
      argv: () => asked('--box', '1,2,three,4'),
      says: ['--box', '"1,2,three,4"', 'x,y,w,h'],
    },
    { title: 'a box with a number missing', argv: () => asked('--box', '1,2,3'), says: ['--box', '"1,2,3"'] },
    {
      title: 'a box with a gap in it',
      argv: () => asked('--box', '10,,20,20'),
      says: ['--box', '"10,,20,20"'],
    },
    {
      title: 'a box outside the frame',
      argv: () => asked('--box', '100,10,20,20'),
      says: ['--box', '96 x 72', '"100,10,20,20"'],
    },
    {
      title: 'a reach too large for the plate',
      argv: () => [...asked('--box', BOX), '--reach', '900'],
      says: ['--reach', '0 to 36', '900'],
    },
    {
      title: 'a reach that is no number',
      argv: () => [...asked('--box', BOX), '--reach', 'far'],
      says: ['--reach', 'whole number', '"far"'],
    },
    {
      title: 'an unknown encoding',
      argv: () => asked('--box', BOX, '--encoding', 'rec907'),
      says: ['--encoding', 'rec709', '"rec907"; did you mean rec709?'],
    },
    {
      title: 'a misspelt option',
      argv: () => asked('--box', BOX, '--encodng', 'srgb'),
      says: ["unknown option '--encodng'; did you mean --encoding?"],
    },
    { title: 'a misspelt command', argv: () => ['fnd', 'x'], says: ["'fnd'", 'did you mean find?'] },
    {
      title: 'a fit that is none',
      argv: () => asked('--box', BOX, '--mask-fit', 'stretch'),
      says: ['--mask-fit', 'stretch', 'same', 'centre', 'scale'],
    },
    { title: 'no range', argv: () => ['find', plate.folder, '--box', BOX], says: ['--frames'] },
    { title: 'no plate', argv: () => ['find', '--frames', '1002'], says: ['plate'] },
    {
      title: 'an output folder in the footage',
      argv: () => asked('--box', BOX, '--out', join(plate.folder, 'result')),
      says: [join(root, 'plate', 'result'), '--out'],
    },
    {
      title: 'an output folder that holds files',
      argv: () => asked('--box', BOX, '--out', done),
      code: 1,
      says: [join(root, 'done'), 'holds files', '--overwrite'],
    },
    {
      title: 'an output folder that is a file',
      argv: () => {
        writeFileSync(join(root, 'a-file'), '')
        return asked('--box', BOX, '--out', join(root, 'a-file'))
      },
      code: 1,
      says: [join(root, 'a-file'), "can't be written"],
    },
    {
      title: 'a result that is not there',
      argv: () => ['patch', nowhere, '--pick', 'hold-1'],
      says: [join(nowhere, 'result.json'), 'offcut find'],
    },
    {
      title: 'a result that is not JSON',
      argv: () => {
        mkdirSync(join(root, 'bad1'), { recursive: true })
        writeFileSync(join(root, 'bad1', 'result.json'), '{"schema":')
        return ['sheet', join(root, 'bad1')]
      },
      says: [join(root, 'bad1', 'result.json'), 'not JSON', 'again'],
    },
    {
      title: 'a result of another shape',
      argv: () => {
        mkdirSync(join(root, 'bad2'), { recursive: true })
        const result = JSON.parse(readFileSync(join(done, 'result.json'), 'utf8'))
        result.target.width = 'wide'
        writeFileSync(join(root, 'bad2', 'result.json'), JSON.stringify(result))
        return ['patch', join(root, 'bad2'), '--pick', 'hold-1']
      },
      says: [join(root, 'bad2', 'result.json'), 'target.width'],
    },
    {
      title: 'a frame that is not there',
      argv: () => ['patch', done, '--pick', 'hold-7'],
      says: ['--pick hold-7 needs frame 7', 'quay.####.png', '1001-1010'],
    },
    {
      title: 'a candidate that is not there',
      argv: () => ['patch', done, '--pick', 'relay-7'],
      says: ['--pick', '"relay-7"', 'one of '],
    },
    {
      title: 'a misspelt candidate',
      argv: () => ['patch', done, '--pick', 'stck-1'],
      says: ['--pick', '"stck-1"; did you mean stack-1?'],
    },
    {
      title: 'a donor moved by hand further than half the plate',
      argv: () => ['patch', done, '--pick', 'stack-1', '--nudge', '0,40'],
      says: ['--nudge', 'from -36 to 36', '96 x 72', '"0,40"'],
    },
    {
      title: 'a donor moved by hand to nowhere',
      argv: () => ['patch', done, '--pick', 'stack-1', '--nudge', '0,far'],
      says: ['--nudge', 'dx,dy in pixels', '"0,far"'],
    },
    {
      title: 'accepted donors moved by hand',
      argv: () => ['patch', done, '--decisions', join(nowhere, 'd.json'), '--nudge', '1,0'],
      says: ['--nudge', '--pick only', '--decisions'],
    },
    { title: 'no candidate picked', argv: () => ['patch', done], says: ['--pick'] },
    {
      title: 'a feather wider than the surround',
      argv: () => [
        'patch',
        done,
        '--pick',
        JSON.parse(readFileSync(join(done, 'result.json'), 'utf8')).candidates[0].id,
        '--feather',
        '13',
      ],
      says: ['--feather', '12', '13'],
    },
    {
      title: 'a patch format that is none',
      argv: () => ['patch', done, '--pick', 'x', '--format', 'bmp'],
      says: ['--format', 'bmp', 'exr', 'png'],
    },
  ]

  test.each(cases)('$title', async ({ argv, code = 2, says }) => {
    const out = join(root, `refused${n++}`)
    const given = await argv()
    const needsOut = given[0] === 'find' && !given.includes('--out')
    const shown = await cli(...given, ...(needsOut ? ['--out', out] : []))
    expect(shown.code, shown.stderr).toBe(code)
    for (const piece of says) expect(shown.stderr).toContain(piece)
    expect(shown.stdout).toBe('')
    expect(shown.stderr).not.toMatch(/\n\s+at |\.[jt]s:\d+/)
    expect(existsSync(out)).toBe(false)
  })

  test('and a stack only when asked for', async () => {
    const { code, stderr } = await cli('survey', nowhere, '--debug')
    expect(code).toBe(2)
    expect(stderr).toMatch(/\n\s+at /)
  })

  test('and a name with control characters can not write on the terminal', async () => {
    const { code, stderr } = await cli('survey', join(root, 'red\u001b[31m\r\nname'))
    expect(code).toBe(2)
    expect(stderr).toContain('red\\u001b[31m\\u000d\\u000aname')
    expect(stderr).not.toContain('\u001b')
  })
})

describe('help', () => {
  test('is on stdout and ends well, for the program and for each command', async () => {
    for (const argv of [
      ['--help'],
      ...['survey', 'find', 'patch', 'sheet', 'demo'].map((c) => [c, '--help']),
    ]) {
      const { code, stdout, stderr } = await cli(...argv)
      expect(code).toBe(0)
      expect(stdout).toContain('Usage: offcut')
      expect(stderr).toBe('')
    }
  })

  test('breaks between words on a terminal of 60 columns, beside the options, too', async () => {
    const { isTTY, columns } = process.stdout
    Object.assign(process.stdout, { isTTY: true, columns: 60 })
    try {
      for (const command of ['survey', 'find', 'patch', 'sheet', 'desk', 'demo']) {
        const lines = (await cli(command, '--help')).stdout.split('\n')
        for (const line of lines) expect(line.length, line).toBeLessThanOrEqual(60)
      }
    } finally {
      Object.assign(process.stdout, { isTTY, columns })
    }
  })

  test('states the defaults that the code has', async () => {
    const { stdout } = await cli('find', '--help')
    for (const text of [REACH_PX, SURROUND_PX, KEEP].map((v) => `(default: ${v})`))
      expect(stdout).toContain(text)
  })

  test('the version is the package’s', async () => {
    const wanted = JSON.parse(readFileSync(new URL('../../package.json', import.meta.url), 'utf8')).version
    expect((await cli('--version')).stdout.trim()).toBe(wanted)
  })
})

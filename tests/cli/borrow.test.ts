import { mkdtempSync, readdirSync, readFileSync, rmSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { afterAll, beforeAll, describe, expect, test } from 'vitest'
import { patch, plantShade } from '../search/shaded.js'
import { texturedWall } from '../synthetic.js'
import { cli } from './cli.js'

let folder: string
let plate: string
beforeAll(async () => {
  folder = mkdtempSync(join(tmpdir(), 'offcut-cli-borrow-'))
  plate = join(folder, 'plate')
  // Of less texture than would hide where a lift ends.
  const texture = texturedWall()
  const wall = (x: number, y: number) => 0.2 * (texture(x, y) / 0.2) ** 0.25
  await plantShade(plate, { frames: 26, wall, shades: [patch({ stops: -0.6, peak: 17, x: 78, y: 58 })] })
})
afterAll(() => rmSync(folder, { recursive: true }))

const box = ['--box', '56,40,44,36']
const frames = ['--frames', '1003-1007']

describe('offcut find --aim borrow', { timeout: 60_000 }, () => {
  const out = () => join(tmpdir(), 'offcut-cli-borrow-out', String(process.pid))
  afterAll(() => rmSync(out(), { recursive: true, force: true }))

  test('finds the shadow, then patch writes its ratio, the frames multiplied, or the donor’s pixels', async () => {
    const found = await cli(
      'find',
      plate,
      ...box,
      ...frames,
      '--aim',
      'borrow',
      '--darker',
      '--peak',
      '1004',
      '--out',
      out(),
    )
    expect(found.stderr).not.toMatch(/error/i)
    expect(found.code).toBe(0)
    expect(found.stdout).toMatch(/run\+14 .*darker .*1018/)
    const result = JSON.parse(readFileSync(join(out(), 'result.json'), 'utf8'))
    expect(result).toMatchObject({ aim: 'borrow', borrow: { peak: 1004, sign: 'darker' } })
    for (const [flags, kind, file] of [
      [[], 'ratio', 'quay_ratio.1003.exr'],
      [['--whole', '--strength', '0.5'], 'borrowed', 'quay_borrowed.1003.png'],
      [['--no-ratio'], 'patch', 'quay_patch.1003.exr'],
    ] as const) {
      const done = await cli('patch', out(), '--pick', 'run+14', ...flags)
      expect(done.code).toBe(0)
      const folder = join(out(), `${kind}-run+14`)
      expect(readdirSync(folder)).toContain(file)
      const patch = JSON.parse(readFileSync(join(folder, 'patch.json'), 'utf8'))
      // The shadow is larger than the box: what is lifted ends at its edges, and that is said.
      const cut = expect.stringContaining("the change of light runs on across the mask's")
      expect(patch).toMatchObject({ what: kind, aim: 'borrow', warnings: kind === 'patch' ? [] : [cut] })
      const lift = patch.frames.find((f: { target: number }) => f.target === 1004)
      expect(lift.lent).toMatchObject([{ frame: 1018, timeOffset: 14, share: 1 }])
      // The wanted peak has all of the strength that was asked for.
      expect(lift.strength).toBe({ ratio: 1, borrowed: 0.5, patch: undefined }[kind])
      expect(lift.reference !== undefined).toBe(kind !== 'patch')
    }
    for (const [fade, flags, says] of [
      ['-1,0', [], /--fade takes in,out in whole frames, 0 or more, got "-1,0"/],
      ['1.5,2', [], /--fade takes in,out in whole frames, 0 or more/],
      ['2', [], /--fade takes in,out in whole frames, 0 or more/],
      ['0,6', [], /--fade takes in,out in whole frames, each 0 to the range's 5, got "0,6"/],
      ['1,1', ['--no-ratio'], /--fade takes effect with --ratio only/],
    ] as const) {
      const folder = join(out(), 'no')
      const refused = await cli(
        'patch',
        out(),
        '--pick',
        'run+14',
        `--fade=${fade}`,
        ...flags,
        '--out',
        folder,
      )
      expect(refused.stderr).toMatch(says)
      expect(refused.code).toBe(2)
      expect(readdirSync(out())).not.toContain('no')
    }
    const closed = await cli('patch', out(), '--pick', 'run+14', '--membrane', '--out', join(out(), 'no'))
    expect(closed.stderr).toMatch(/--membrane takes effect on pixels that are lent, not on a ratio/)
    expect(closed.code).toBe(2)
    const png = ['patch', out(), '--pick', 'run+14', '--format', 'png', '--out', join(out(), 'no')]
    for (const [flags, says] of [
      [[], 'no effect on what is multiplied, which is exr, got "png"'],
      [
        ['--no-ratio', '--whole', '--format', 'tif'],
        'no effect on whole frames, which are written as the plate is: png',
      ],
    ] as const) {
      const refused = await cli(...png, ...flags)
      expect(refused.stderr).toContain(`--format takes ${says}`)
      expect(refused.code).toBe(2)
    }
    for (const strength of ['-1', '4.5']) {
      const refused = await cli(
        'patch',
        out(),
        '--pick',
        'run+14',
        '--strength',
        strength,
        '--out',
        join(out(), 'no'),
      )
      expect(refused.code).toBe(2)
      expect(refused.stderr).toMatch(new RegExp(`--strength takes 0 \\(no change\\) to 4, .*${strength}`))
      expect(readdirSync(out())).not.toContain('no')
    }
  })

  test('an empty plate is no failure: exit 0, no candidate, and the strongest thing seen', async () => {
    const r = await cli(
      'find',
      plate,
      ...box,
      ...frames,
      '--aim',
      'borrow',
      '--brighter',
      '--out',
      join(out(), 'none'),
    )
    expect(r.code).toBe(0)
    expect(r.stdout).toMatch(/no candidate/)
    expect(r.stderr).toMatch(/nothing that gets brighter to borrow: (the strongest is|nothing rises)/)
  })
})

describe('misuse ends with exit 2 and says what is wrong', () => {
  test.each([
    ['a borrow’s option without the aim', ['--peak', '1004'], /--peak takes effect with --aim borrow only/],
    ['both signs', ['--aim', 'borrow', '--darker', '--brighter'], /--darker takes no --brighter beside it/],
    ['a box of three numbers', ['--aim', 'borrow', '--look-in', '1,2,3'], /--look-in takes x,y,w,h/],
    ['an offset of one number', ['--aim', 'borrow', '--offset', '4'], /--offset takes dx,dy in pixels/],
    [
      'an offset that leads out of the plate',
      ['--aim', 'borrow', '--offset', '900,0'],
      /--offset takes dx,dy that start inside/,
    ],
    [
      'a peak outside the range',
      ['--aim', 'borrow', '--peak', '1020'],
      /--peak takes a frame of the target range 1003-1007/,
    ],
  ])('%s', async (_, flags, message) => {
    const r = await cli('find', plate, ...box, ...frames, ...flags, '--out', join(folder, 'never'))
    expect(r.stderr).toMatch(message)
    expect(r.code).toBe(2)
  })
})

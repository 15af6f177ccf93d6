// Two results over one plate, patched as one: as a shell sees it.
import { mkdirSync, mkdtempSync, readFileSync, rmSync, writeFileSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { afterAll, beforeAll, describe, expect, test } from 'vitest'
import { patchSchema } from '../../src/repair/hand-over/patch.js'
import { writeResultFile } from '../../src/search/write-result.js'
import { resultFor } from '../repair/job.js'
import { plantPlate } from '../synthetic.js'
import { cli, shownIn } from './cli.js'

const root = mkdtempSync(join(tmpdir(), 'offcut-cli-several-'))
afterAll(() => rmSync(root, { recursive: true }))

let left: string
let right: string
let other: string
beforeAll(async () => {
  const stored = async (name: string, plate: string, box: readonly number[], targets: readonly number[]) => {
    const folder = join(root, name)
    const { result } = resultFor(
      plate,
      targets.map((target) => ({ target, donor: 1010 })),
      { frames: 12, box },
    )
    mkdirSync(folder)
    await writeResultFile(folder, result)
    return folder
  }
  const { folder } = await plantPlate(join(root, 'plate'), { frames: 12 })
  left = await stored('left', folder, [40, 40, 30, 30], [1002, 1003])
  right = await stored('right', folder, [62, 44, 30, 30], [1003, 1004])
  const second = await plantPlate(join(root, 'second'), { frames: 12 })
  other = await stored('other', second.folder, [62, 44, 30, 30], [1003, 1004])
})

describe('patch of two results', () => {
  test('is checked through the look that is named', async () => {
    const look = join(root, 'show.cube')
    writeFileSync(look, 'LUT_1D_SIZE 2\n1 1 1\n0 0 0\n')
    const out = join(root, 'looked')
    const picks = ['--pick', 'relay-1', '--pick', 'relay-1']
    const { code, stderr } = await cli('patch', left, right, ...picks, '--look', look, '--out', out)
    expect(code, stderr).toBe(0)
    expect(readFileSync(join(out, 'check.html'), 'utf8')).toContain('through the look show.cube')
  })

  test('is one sequence, with what each lent beside it, and says where they meet', async () => {
    const out = join(root, 'both')
    const { code, stdout, stderr } = await cli(
      'patch',
      left,
      right,
      '--pick',
      'relay-1',
      '--pick',
      'relay-1',
      '--membrane',
      '--out',
      out,
    )
    expect(code, stderr).toBe(0)
    expect(shownIn(out)).toEqual([
      'check.html',
      'patch-1.csv',
      'patch-1.json',
      'patch-2.csv',
      'patch-2.json',
      'patch.otio',
      'quay_patch.1002.exr',
      'quay_patch.1003.exr',
      'quay_patch.1004.exr',
    ])
    expect(stdout).toContain('3 patches of relay-1 and relay-1')
    expect(stderr).toMatch(
      /on frame 1003 up to \d+ pixels are patched more than once: the later result lies on top/,
    )
    expect(stderr).not.toContain('read back')
    const { tracks } = JSON.parse(readFileSync(join(out, 'patch.otio'), 'utf8'))
    const shown = (track: {
      children: { OTIO_SCHEMA: string; source_range: { duration: { value: number } } }[]
    }) => track.children.map((c) => [c.OTIO_SCHEMA, c.source_range.duration.value])
    expect(tracks.children.map((t: { name: string }) => t.name)).toEqual([
      'target',
      'donors 1: relay-1',
      'donors 2: relay-1',
    ])
    // The range of both is 1002 to 1004, and each is nothing where the other is alone.
    expect(tracks.children.map(shown)).toEqual([
      [['Clip.2', 3]],
      [
        ['Clip.2', 2],
        ['Gap.1', 1],
      ],
      [
        ['Gap.1', 1],
        ['Clip.2', 2],
      ],
    ])
    const page = readFileSync(join(out, 'check.html'), 'utf8')
    expect(page.match(/<article/g)).toHaveLength(3)
    expect(page).toContain('up to')
    const first = patchSchema.parse(JSON.parse(readFileSync(join(out, 'patch-1.json'), 'utf8')))
    // The plate is painted without grain: nothing tells how the patch changes beside it, and the page says so.
    expect(page).toContain(`1: relay-1, not measured: ${first.check!.unmeasured}`)
    const second = patchSchema.parse(JSON.parse(readFileSync(join(out, 'patch-2.json'), 'utf8')))
    expect(second.membrane).toBe(true)
    expect(second.frames.map(({ target, file }) => [target, file])).toEqual([
      [1003, 'quay_patch.1003.exr'],
      [1004, 'quay_patch.1004.exr'],
    ])
  })

  test.each([
    [
      'a pick for each',
      () => [left, right, '--pick', 'relay-1'],
      ['--pick', 'one for each of the 2 results'],
    ],
    [
      'each candidate once',
      () => [left, join(left, 'result.json'), '--pick', 'relay-1', '--pick', 'relay-1'],
      ['--pick', 'each candidate of a result once', 'relay-1 of', 'twice'],
    ],
    [
      'one plate',
      () => [left, other, '--pick', 'relay-1', '--pick', 'relay-1'],
      ['is another plate than', 'second'],
    ],
    [
      'no nudge',
      () => [left, right, '--pick', 'relay-1', '--pick', 'relay-1', '--nudge', '1,0'],
      ['--nudge', 'one result at a time'],
    ],
    [
      'one pick of one result',
      () => [left, '--pick', 'relay-1', '--pick', 'hold-1010'],
      ['--pick', 'a result for each'],
    ],
  ])('wants %s', async (_, argv, says) => {
    const { code, stderr } = await cli('patch', ...argv())
    expect(code).toBe(2)
    for (const text of says) expect(stderr).toContain(text)
  })
})

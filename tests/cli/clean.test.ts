import { mkdtempSync, readdirSync, readFileSync, rmSync, writeFileSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { afterAll, beforeAll, describe, expect, test } from 'vitest'
import { plantPlate } from '../synthetic.js'
import { cli } from './cli.js'

let folder: string
const out = () => join(folder, 'out')
beforeAll(async () => {
  folder = mkdtempSync(join(tmpdir(), 'offcut-cli-clean-'))
  const plate = join(folder, 'plate')
  await plantPlate(plate, {
    frames: 14,
    occluders: (i) => (i === 5 || i === 6 ? [{ x: 66, y: 30, w: 18, h: 60, light: 0.05 }] : []),
  })
  const asked = ['--box', '60,40,32,36', '--frames', '1006-1007', '--out', out()]
  expect((await cli('find', plate, ...asked)).code).toBe(0)
}, 60_000)
afterAll(() => rmSync(folder, { recursive: true }))

describe('offcut patch --clean', { timeout: 60_000 }, () => {
  test('writes the region with nobody in front for every frame of the plate', async () => {
    const done = await cli('patch', out(), '--clean')
    expect(done.stderr).not.toMatch(/error/i)
    expect(done.code).toBe(0)
    expect(done.stdout).toMatch(
      /14 patches of relay-clean in .*: quay_patch\.1001\.exr to quay_patch\.1014\.exr/,
    )
    const frames = readdirSync(join(out(), 'patch-relay-clean')).filter((name) => name.endsWith('.exr'))
    expect(frames).toHaveLength(14)
  })

  test('is checked through the look that is named, and a look that is not there is refused first', async () => {
    const look = join(folder, 'show.cube')
    const gone = await cli('patch', out(), '--clean', '--look', look, '--out', join(folder, 'looked'))
    expect(gone.code).toBe(2)
    expect(gone.stderr).toContain(`${look} is not there`)
    expect(gone.stderr).not.toContain('reading')
    writeFileSync(look, 'LUT_1D_SIZE 2\n1 1 1\n0 0 0\n')
    const done = await cli('patch', out(), '--clean', '--look', look, '--out', join(folder, 'looked'))
    expect(done.code, done.stderr).toBe(0)
    expect(readFileSync(join(folder, 'looked', 'check.html'), 'utf8')).toContain('through the look show.cube')
  })

  test.each([
    [['--pick', 'hold-1001'], '--pick'],
    [['--nudge', '1,0'], '--nudge'],
    [['--ratio'], '--ratio'],
  ])('%s beside it is refused', async (flags, named) => {
    const refused = await cli('patch', out(), '--clean', ...flags, '--out', join(folder, 'never'))
    expect(refused.code).toBe(2)
    expect(refused.stderr).toContain(`--clean takes no ${named} beside it`)
    expect(readdirSync(folder)).not.toContain('never')
  })
})

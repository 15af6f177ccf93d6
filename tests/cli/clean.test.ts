import { mkdtempSync, readdirSync, rmSync } from 'node:fs'
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

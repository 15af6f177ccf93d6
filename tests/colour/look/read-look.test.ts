// A look's file: what is said where it can not be used.
import { mkdtempSync, rmSync, writeFileSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { afterAll, expect, test } from 'vitest'
import { readLook } from '../../../src/colour/look/read-look.js'
import { expectRefusal } from '../../refusal.js'

const folder = mkdtempSync(join(tmpdir(), 'offcut-look-'))
afterAll(() => rmSync(folder, { recursive: true }))

function saved(name: string, text: string): string {
  const path = join(folder, name)
  writeFileSync(path, text)
  return path
}

const CURVES = 'LUT_1D_SIZE 2\n0 0 0\n1 1 1\n'

test('a look goes by its title, and without one by its file', async () => {
  const titled = saved('titled.cube', `TITLE "evening"\n${CURVES}`)
  const plain = saved('plain.cube', CURVES)
  expect(await readLook(titled)).toMatchObject({ name: 'evening', path: titled, cube: null })
  expect(await readLook(plain)).toMatchObject({ name: 'plain.cube', path: plain })
})

test('one that is not there, is a folder or is broken is refused with its name, the line and the way out', async () => {
  const [code, exitCode] = ['LOOK_BAD', 2] as const
  const gone = join(folder, 'gone.cube')
  await expectRefusal(() => readLook(gone), {
    code: 'LOOK_NOT_FOUND',
    exitCode,
    says: [gone, 'is not there', '.cube'],
  })
  await expectRefusal(() => readLook(folder), { code, exitCode, says: [folder, 'is not a file'] })
  const broken = saved('broken.cube', `${CURVES}0 0\n`)
  await expectRefusal(() => readLook(broken), {
    code,
    exitCode,
    says: [broken, 'line 4', 'export the look again'],
  })
})

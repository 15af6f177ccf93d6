// A look's text, as the specification has it and as people hand it over.
import { describe, expect, test } from 'vitest'
import { BadLook, parseCube } from '../../../src/colour/look/parse-cube.js'

const ROWS = ['0 0 0', '1 0 0', '0 1 0', '1 1 0', '0 0 1', '1 0 1', '0 1 1', '1 1 1']

function cube(...head: string[]): string {
  return [...head, 'LUT_3D_SIZE 2', ...ROWS].join('\n')
}

test('the first axis that a cube steps along is red', () => {
  const { cube: found, curves } = parseCube(cube())
  expect(curves).toBeNull()
  expect(found).toMatchObject({ size: 2, min: [0, 0, 0], max: [1, 1, 1] })
  expect([...found!.values.subarray(0, 9)]).toEqual([0, 0, 0, 1, 0, 0, 0, 1, 0])
})

describe('a cube reads the same', () => {
  const plain = parseCube(cube())
  const same: Readonly<Record<string, string>> = {
    'with line ends as Windows has them': cube().replaceAll('\n', '\r\n'),
    'after a byte order mark': `\uFEFF${cube()}`,
    'with comments and blank lines everywhere': cube('# a look', '').replaceAll('\n', '\n\n  # note\n'),
    'with tabs and spaces around its numbers': cube().replace('1 1 0', ' \t1\t1  0 '),
    'with its numbers written in powers of ten': cube().replace('1 1 0', '1e0 10E-1 +0.0'),
    'with a line end after the last row': `${cube()}\n\n`,
    'when it says the domain that it would have anyway': cube('DOMAIN_MIN 0 0 0', 'DOMAIN_MAX 1 1 1'),
  }
  test.each(Object.entries(same))('%s', (_, text) => expect(parseCube(text)).toEqual(plain))
})

test('title and domain are taken over, per channel', () => {
  const text = cube('TITLE "dusk # 2"', 'DOMAIN_MIN -1 -0.5 0', 'DOMAIN_MAX 2 3 4')
  expect(parseCube(text)).toMatchObject({ title: 'dusk # 2', cube: { min: [-1, -0.5, 0], max: [2, 3, 4] } })
})

test('curves before a cube each have their own range', () => {
  const head = ['LUT_1D_SIZE 2', 'LUT_1D_INPUT_RANGE -1 3', 'LUT_3D_SIZE 2', 'LUT_3D_INPUT_RANGE 0 2']
  const { curves, cube } = parseCube([...head, '0.5 0.5 0.5', '1 1 1', ...ROWS].join('\n'))
  expect(curves).toMatchObject({ size: 2, min: [-1, -1, -1], max: [3, 3, 3] })
  expect([...curves!.values]).toEqual([0.5, 0.5, 0.5, 1, 1, 1])
  expect(cube).toMatchObject({ size: 2, max: [2, 2, 2] })
  expect([...cube!.values.subarray(0, 6)]).toEqual([0, 0, 0, 1, 0, 0])
})

describe('a broken look is refused with the line', () => {
  const broken: Readonly<Record<string, readonly [text: string, says: string]>> = {
    'that is empty': ['', 'neither LUT_3D_SIZE nor LUT_1D_SIZE'],
    'whose size comes after its numbers': [`${ROWS.join('\n')}\nLUT_3D_SIZE 2`, 'before its numbers'],
    'that ends too early': [cube().replace(/\n1 1 1$/, ''), 'ends after 7 of 8 rows'],
    'that goes on too long': [`${cube()}\n0 0 0`, 'line 10 goes on after the 8 rows'],
    'with a row of two numbers': [cube().replace('0 1 0', '0 1'), 'line 4 is no row of three numbers'],
    'with a word in a row': [cube().replace('0 1 0', '0 1 red'), 'line 4 is no row'],
    'with a row that begins with a word': [cube().replace('0 1 0', 'nan 1 0'), 'line 4 is no row'],
    'with a number that is not finite': [cube().replace('0 1 0', '0 1 1e60'), 'line 4 is no row'],
    'with a decimal comma': [cube().replace('0 1 0', '0,5 1 0'), 'line 4 is no row'],
    'with a keyword of another format': [
      cube('LUT_IN_VIDEO_RANGE'),
      'line 1 says LUT_IN_VIDEO_RANGE, which is none of TITLE',
    ],
    'that is a picture': ['\x89PNG\r\n\x1a\n', 'line 1 says \x89PNG'],
    'with a size of one': [cube().replace('SIZE 2', 'SIZE 1'), 'line 1 gives no LUT_3D_SIZE from 2 to 256'],
    'with a size beyond all': ['LUT_3D_SIZE 257', 'line 1 gives no LUT_3D_SIZE from 2 to 256'],
    'with half a size': ['LUT_1D_SIZE 2.5', 'line 1 gives no LUT_1D_SIZE from 2 to 65536'],
    'with a domain of two numbers': [cube('DOMAIN_MIN 0 0'), 'line 1 gives no three numbers for DOMAIN_MIN'],
    'with a range of one number': [cube('LUT_3D_INPUT_RANGE 1'), 'line 1 gives no two numbers'],
    'whose domain is empty': [cube('DOMAIN_MIN 0 1 0'), 'from 0 1 0 to 1 1 1, which is empty'],
    'with one domain for two tables': [
      `DOMAIN_MAX 2 2 2\nLUT_1D_SIZE 2\n${cube()}`,
      'has curves and a cube, and says DOMAIN_MIN or DOMAIN_MAX',
    ],
  }
  test.each(Object.entries(broken))('one %s', (_, [text, says]) => {
    let error: unknown
    try {
      parseCube(text)
    } catch (thrown) {
      error = thrown
    }
    expect(error).toBeInstanceOf(BadLook)
    expect((error as BadLook).message).toContain(says)
  })
})

// The open text format of looks, .cube: keywords, then rows of three numbers, red fastest.
// Source: Adobe, Cube LUT Specification 1.0 (2013); LUT_1D_INPUT_RANGE, LUT_3D_INPUT_RANGE and curves before a cube in one
// file as OpenColorIO's resolve_cube format has them.
import type { Domain, Look } from './look.js'

/** What is wrong with the text of a look, with the line, without the file's name. */
export class BadLook extends Error {
  override readonly name = 'BadLook'
}

/** The specification's own limits. */
const MAX_CURVE = 65536
const MAX_CUBE = 256

const KEYWORDS = [
  'TITLE',
  'LUT_1D_SIZE',
  'LUT_3D_SIZE',
  'DOMAIN_MIN',
  'DOMAIN_MAX',
  'LUT_1D_INPUT_RANGE',
  'LUT_3D_INPUT_RANGE',
] as const
type Keyword = (typeof KEYWORDS)[number]

interface Head {
  title?: string
  readonly sizes: { LUT_1D_SIZE?: number; LUT_3D_SIZE?: number }
  readonly domains: Partial<Record<'DOMAIN_MIN' | 'DOMAIN_MAX', readonly [number, number, number]>>
  readonly ranges: { LUT_1D_INPUT_RANGE?: Domain; LUT_3D_INPUT_RANGE?: Domain }
}

/**
 * A look from the text of its file.
 *
 * @throws BadLook
 */
export function parseCube(text: string): Omit<Look, 'path' | 'name'> & { readonly title: string | null } {
  const lines = linesOf(text)
  const head: Head = { sizes: {}, domains: {}, ranges: {} }
  let next = lines.next()
  for (; !next.done && !isRow(next.value.text); next = lines.next()) readKeyword(head, next.value)
  const { LUT_1D_SIZE: curveSize, LUT_3D_SIZE: cubeSize } = head.sizes
  if (curveSize === undefined && cubeSize === undefined)
    throw new BadLook('says neither LUT_3D_SIZE nor LUT_1D_SIZE before its numbers')
  const [curveDomain, cubeDomain] = domainsOf(head)
  const curves = curveSize === undefined ? null : new Float32Array(3 * curveSize)
  const cube = cubeSize === undefined ? null : new Float32Array(3 * cubeSize ** 3)
  for (const values of [curves, cube]) {
    if (values === null) continue
    for (let i = 0; i < values.length; i += 3, next = lines.next()) {
      if (next.done) throw tooFew(i / 3, values.length / 3)
      readRow(next.value, values, i)
    }
  }
  if (!next.done) {
    const rows = ((curves?.length ?? 0) + (cube?.length ?? 0)) / 3
    throw bad(next.value, `goes on after the ${rows} rows that its size asks for`)
  }
  return {
    title: head.title ?? null,
    curves: curves && { ...curveDomain, size: curveSize!, values: curves },
    cube: cube && { ...cubeDomain, size: cubeSize!, values: cube },
  }
}

function tooFew(rows: number, wanted: number): BadLook {
  return new BadLook(`ends after ${rows} of ${wanted} rows`)
}

interface Line {
  readonly number: number
  readonly text: string
}

/** Lines that say something: no blank ones, no comments. */
function* linesOf(text: string): Generator<Line, undefined> {
  let from = text.startsWith('\uFEFF') ? 1 : 0
  for (let number = 1; from < text.length; number++) {
    const end = text.indexOf('\n', from)
    const to = end < 0 ? text.length : end
    const line = text.slice(from, to).trim()
    if (line !== '' && !line.startsWith('#')) yield { number, text: line }
    from = to + 1
  }
}

function bad({ number }: Line, problem: string): BadLook {
  return new BadLook(`line ${number} ${problem}`)
}

/** A row begins with a number; words that only read as one, such as `nan`, begin with a letter. */
function isRow(text: string): boolean {
  return /^[-+.\d]/.test(text)
}

function readRow(line: Line, values: Float32Array, at: number): void {
  const numbers = numbersOf(line.text.split(/\s+/))
  if (numbers?.length !== 3) throw bad(line, 'is no row of three numbers')
  values.set(numbers, at)
}

/** Null where one of them is no number that a table may hold. */
function numbersOf(words: readonly string[]): number[] | null {
  const numbers = words.map((word) => (/^[-+.\d]/.test(word) ? Number(word) : Number.NaN))
  return numbers.every((v) => Number.isFinite(Math.fround(v))) ? numbers : null
}

function readKeyword(head: Head, line: Line): void {
  const [name, ...words] = line.text.split(/\s+/)
  if (!isKeyword(name)) throw bad(line, `says ${name!.slice(0, 40)}, which is none of ${KEYWORDS.join(', ')}`)
  if (name === 'TITLE') {
    head.title = line.text
      .slice(name.length)
      .trim()
      .replace(/^"(.*)"$/, '$1')
    return
  }
  const numbers = numbersOf(words)
  if (name === 'LUT_1D_SIZE' || name === 'LUT_3D_SIZE') {
    const most = name === 'LUT_1D_SIZE' ? MAX_CURVE : MAX_CUBE
    const size = numbers?.length === 1 ? numbers[0]! : 0
    if (!Number.isInteger(size) || size < 2 || size > most)
      throw bad(line, `gives no ${name} from 2 to ${most}`)
    head.sizes[name] = size
  } else if (name === 'DOMAIN_MIN' || name === 'DOMAIN_MAX') {
    if (numbers?.length !== 3) throw bad(line, `gives no three numbers for ${name}`)
    head.domains[name] = numbers as [number, number, number]
  } else {
    if (numbers?.length !== 2) throw bad(line, `gives no two numbers for ${name}`)
    const [min, max] = numbers as [number, number]
    head.ranges[name] = { min: [min, min, min], max: [max, max, max] }
  }
}

function isKeyword(name: string | undefined): name is Keyword {
  return (KEYWORDS as readonly (string | undefined)[]).includes(name)
}

/** Of the curves and of the cube. */
function domainsOf({ sizes, domains, ranges }: Head): readonly [Domain, Domain] {
  const both = sizes.LUT_1D_SIZE !== undefined && sizes.LUT_3D_SIZE !== undefined
  const named = domains.DOMAIN_MIN !== undefined || domains.DOMAIN_MAX !== undefined
  // Nothing says which of the two is meant.
  if (both && named) throw new BadLook('has curves and a cube, and says DOMAIN_MIN or DOMAIN_MAX of both')
  const all = { min: domains.DOMAIN_MIN ?? [0, 0, 0], max: domains.DOMAIN_MAX ?? [1, 1, 1] } as const
  const found = [ranges.LUT_1D_INPUT_RANGE ?? all, ranges.LUT_3D_INPUT_RANGE ?? all] as const
  for (const { min, max } of found) {
    if (min.every((low, c) => low < max[c]!)) continue
    throw new BadLook(`has a domain from ${min.join(' ')} to ${max.join(' ')}, which is empty`)
  }
  return found
}

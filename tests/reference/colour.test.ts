// Transfer curves and primaries against OpenColorIO's own, by fixtures/colour/make-curves.py and make-primaries.py.
import { readFileSync } from 'node:fs'
import { expect, test } from 'vitest'
import { ENCODINGS, type Encoding } from '../../src/colour/encoding.js'
import { toBt709 } from '../../src/colour/primaries.js'
import { decode } from '../../src/colour/transfer.js'

const reference = JSON.parse(
  readFileSync(new URL('../../fixtures/colour/curves.json', import.meta.url), 'utf8'),
) as { codes: number[]; linear: Record<string, number[]> }

// OpenColorIO computes in float32, and keeps two of the curves as tables of 4096 entries with straight lines between.
// ARRI prints its constants with six digits, and BT.709 with three; OpenColorIO derives more, so that nothing jumps at
// the break.
const RELATIVE: Partial<Record<Encoding, number>> = { clog2: 2e-4, clog3: 2e-4, logc3: 1e-5, rec709: 5e-4 }
const ABSOLUTE: Partial<Record<Encoding, number>> = { rec709: 1e-4 }

const compared = ENCODINGS.filter((encoding) => encoding in reference.linear)

test('nine encodings have a reference', () => expect(compared).toHaveLength(9))

test.each(compared.map((encoding) => [encoding] as const))('%s decodes as OpenColorIO does', (encoding) => {
  const { codes, linear } = reference
  const relative = RELATIVE[encoding] ?? 2e-6
  const absolute = ABSOLUTE[encoding] ?? 1e-6
  for (const [i, code] of codes.entries()) {
    const wanted = linear[encoding]![i]!
    const off = Math.abs(decode(code, encoding) - wanted)
    expect(off, `code ${code}: ${decode(code, encoding)}, not ${wanted}`).toBeLessThan(
      absolute + relative * Math.abs(wanted),
    )
  }
})

test('ACEScg goes to BT.709 by the matrix that OpenColorIO has for it', () => {
  const { acescgToBt709 } = JSON.parse(
    readFileSync(new URL('../../fixtures/colour/primaries.json', import.meta.url), 'utf8'),
  ) as { acescgToBt709: number[] }
  // S-2014-004: AP1's red, green, blue, and the ACES white
  const matrix = toBt709([0.713, 0.293, 0.165, 0.83, 0.128, 0.044, 0.32168, 0.33767])!
  // Bradford's own digits, and those of its inverse, are where the two part
  for (const [i, wanted] of acescgToBt709.entries()) expect(Math.abs(matrix[i]! - wanted)).toBeLessThan(2e-6)
})

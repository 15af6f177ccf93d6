// A look's file, read.
import { readFile, stat } from 'node:fs/promises'
import { basename, resolve } from 'node:path'
import { type OffcutError, plateError } from '../../errors.js'
import type { Look } from './look.js'
import { BadLook, parseCube } from './parse-cube.js'

/** The largest cube that the format allows has 16.8 million rows of some 27 bytes; more does not fit one text. */
const MAX_BYTES = 500e6

/**
 * Reads a look.
 *
 * @param spec a .cube file
 * @throws LOOK_NOT_FOUND, LOOK_BAD with the line
 */
export async function readLook(spec: string): Promise<Look> {
  const path = resolve(spec)
  const found = await stat(path).catch(() => null)
  if (found === null)
    throw lookError('LOOK_NOT_FOUND', spec, 'is not there', 'give the .cube file of the look')
  // A pipe or a device may never end.
  if (!found.isFile()) throw badLook(spec, 'is not a file')
  if (found.size > MAX_BYTES) throw badLook(spec, `has ${found.size} bytes, more than any cube`)
  let text: string
  try {
    text = await readFile(path, 'utf8')
  } catch (cause) {
    throw badLook(spec, `can't be read (${(cause as NodeJS.ErrnoException).code})`, cause)
  }
  try {
    const { title, curves, cube } = parseCube(text)
    return { path, name: title || basename(path), curves, cube }
  } catch (cause) {
    if (cause instanceof BadLook) throw badLook(spec, cause.message, cause)
    throw cause
  }
}

function badLook(spec: string, problem: string, cause?: unknown): OffcutError {
  return lookError('LOOK_BAD', spec, problem, 'export the look again as a .cube', cause)
}

function lookError(
  code: string,
  spec: string,
  problem: string,
  remedy: string,
  cause?: unknown,
): OffcutError {
  return plateError(code, spec, problem, remedy, { cause, exitCode: 2 })
}

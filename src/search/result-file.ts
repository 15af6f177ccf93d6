// result.json read back from disk, untrusted.
import { readFile, stat } from 'node:fs/promises'
import { dirname, join } from 'node:path'
import { OffcutError, printable } from '../errors.js'
import { faultOf } from '../fault.js'
import { type Result, resultSchema } from './result.js'
import { misfit } from './result-misfit.js'

/** A result as it lies on disk. */
export interface StoredResult {
  /** Where it lies, and what is made from it goes by default. */
  readonly folder: string
  readonly result: Result
}

/**
 * @param spec the result's folder, or the file in it
 * @throws RESULT_NOT_FOUND, RESULT_BAD with what is wrong in it
 */
export async function readResult(spec: string): Promise<StoredResult> {
  const isFile = (await stat(spec).catch(() => null))?.isFile() ?? spec.endsWith('.json')
  const path = isFile ? spec : join(spec, 'result.json')
  const text = await readFile(path, 'utf8').catch((cause) => {
    throw new OffcutError(
      'RESULT_NOT_FOUND',
      `${printable(path)} is not there: give the folder that offcut find wrote`,
      2,
      { cause },
    )
  })
  let parsed: unknown
  try {
    parsed = JSON.parse(text.replace(/^\uFEFF/, ''))
  } catch (cause) {
    throw bad(path, `is not JSON (${(cause as Error).message})`, cause)
  }
  const checked = resultSchema.safeParse(parsed)
  const fault = checked.success ? misfit(checked.data) : faultOf(checked.error, parsed)
  if (!checked.success || fault !== null)
    throw bad(path, `is not a result as offcut find writes it (${fault})`)
  return { folder: isFile ? dirname(path) : spec, result: checked.data }
}

function bad(path: string, problem: string, cause?: unknown): OffcutError {
  return new OffcutError('RESULT_BAD', `${printable(path)} ${printable(problem)}: run offcut find again`, 2, {
    cause,
  })
}

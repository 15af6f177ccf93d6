// The result folder: result.json, candidates.csv, and the sheet; written together, read back untrusted.
import { readFile, stat } from 'node:fs/promises'
import { dirname, join } from 'node:path'
import { OffcutError, printable } from '../errors.js'
import { faultOf } from '../fault.js'
import { writeWhole } from '../footage/write/file.js'
import { withFootage } from '../repair/footage.js'
import type { RepairJob } from '../repair/repair.js'
import { type Result, resultSchema } from '../search/result.js'
import { misfit } from '../search/result-misfit.js'
import { writeCsv } from '../sheet/data/csv.js'
import { type Decisions, parseDecisions } from '../sheet/data/decisions.js'
import { searchFingerprint } from '../sheet/data/fingerprint.js'
import { type PictureSource, picturesOf } from '../sheet/data/pictures.js'
import { writeSheet } from '../sheet/sheet.js'
import type { Io } from './io.js'

export async function writeResult(folder: string, job: RepairJob, io: Io): Promise<void> {
  const { result } = job
  await writeResultSheet(folder, job, io)
  await writeCsv(join(folder, 'candidates.csv'), result)
  await writeWhole(join(folder, 'result.json'), `${JSON.stringify(result, null, 1)}\n`)
}

/** The sheet alone, drawn from the footage that the result names. */
export async function writeResultSheet(
  folder: string,
  job: RepairJob,
  io: Io,
  decisions?: Decisions,
): Promise<void> {
  const { result } = job
  const remarks = job.changed.map(({ message }) => message)
  for (const remark of remarks) io.say(`note: ${remark}`)
  const pictures = picturesOf(job)
  // The sheet takes as long as the search: a Ctrl-C in it must count as one before it.
  const watched: PictureSource = {
    pictures(candidate, match) {
      io.signal.throwIfAborted()
      return pictures.pictures(candidate, match)
    },
    donor(candidate, match) {
      io.signal.throwIfAborted()
      return pictures.donor(candidate, match)
    },
  }
  const onProgress = io.progress.report
  await withFootage(job, result.candidates, { onProgress, signal: io.signal }, () =>
    writeSheet(folder, result, watched, { decisions, remarks, onProgress }),
  )
}

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

/**
 * What the lead decided about this result.
 *
 * @throws DECISIONS_NOT_FOUND, DECISIONS_OTHER (made on another search), and as parseDecisions
 */
export async function readDecisions(path: string, result: Result): Promise<Decisions> {
  const text = await readFile(path, 'utf8').catch((cause) => {
    const problem = `${printable(path)} can't be read: give the file that the sheet saved`
    throw new OffcutError('DECISIONS_NOT_FOUND', problem, 2, { cause })
  })
  const decisions = parseDecisions(text, path)
  if (decisions.search === searchFingerprint(result)) return decisions
  throw new OffcutError(
    'DECISIONS_OTHER',
    `${printable(path)} was made on another search (${printable(decisions.plate)}, frames ${decisions.first}-${decisions.last}): decide on this result's own sheet`,
    2,
  )
}

function bad(path: string, problem: string, cause?: unknown): OffcutError {
  return new OffcutError('RESULT_BAD', `${printable(path)} ${printable(problem)}: run offcut find again`, 2, {
    cause,
  })
}

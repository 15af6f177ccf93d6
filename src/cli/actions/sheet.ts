// offcut sheet: the sheet of a result, written again, or the page over several.
import { mkdtemp, readFile, rm } from 'node:fs/promises'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { readLook } from '../../colour/look/read-look.js'
import { misuse } from '../../errors.js'
import { writeWhole } from '../../footage/write/file.js'
import { openRepair } from '../../repair/repair.js'
import { readResult } from '../../search/result-file.js'
import { readDecisions } from '../../sheet/data/decisions-file.js'
import { printPdf } from '../../sheet/pdf.js'
import { writeResultSheet } from '../../sheet/result-folder.js'
import { writeShots } from '../../sheet/shots/write-shots.js'
import type { Io } from '../io.js'

export interface SheetFlags {
  decisions?: string
  pdf?: boolean
  look?: string
  index?: boolean
}

/** @throws MISUSE, as writeShots, and as readResult, readDecisions, openRepair and writeResultSheet */
export async function sheet(specs: readonly string[], flags: SheetFlags, io: Io): Promise<void> {
  if (flags.index) {
    const other = (['decisions', 'pdf', 'look'] as const).find((name) => flags[name] !== undefined)
    if (other !== undefined) {
      throw misuse('--index', 'the sheets as they are', `--${other}, which is for writing a sheet again`)
    }
    io.print(`index   ${await writeShots(specs)}`)
    return
  }
  if (flags.decisions !== undefined && specs.length > 1) {
    throw misuse('--decisions', 'one result at a time', specs.join(', '))
  }
  for (const spec of specs) await sheetAgain(spec, flags, io)
}

async function sheetAgain(
  spec: string,
  { decisions, pdf = false, look: file }: SheetFlags,
  io: Io,
): Promise<void> {
  const { folder, result } = await readResult(spec)
  const decided = decisions === undefined ? undefined : await readDecisions(decisions, result)
  const look = file === undefined ? undefined : await readLook(file)
  const job = await openRepair(result, { look })
  for (const { message } of job.changed) io.say(`warning: ${message}`)
  const staging = await mkdtemp(join(tmpdir(), 'offcut-sheet-'))
  const names = ['sheet.png', 'sheet.html']
  try {
    await writeResultSheet(staging, job, {
      decisions: decided,
      onProgress: io.progress.report,
      signal: io.signal,
    })
    if (pdf) {
      await printPdf(join(staging, 'sheet.html'), join(staging, 'sheet.pdf'))
      names.push('sheet.pdf')
    }
    // The sheet is the one thing that this command is for, so it replaces the sheet that is there.
    for (const name of names) {
      await writeWhole(join(folder, name), await readFile(join(staging, name)), { overwrite: true })
    }
  } finally {
    job.close()
    await rm(staging, { recursive: true, force: true })
  }
  io.progress.clear()
  io.print(`sheet   ${names.map((name) => join(folder, name)).join(', ')}`)
}

// offcut sheet: the sheet of a result, written again.

import { mkdtemp, readFile, rm } from 'node:fs/promises'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import type { Command } from 'commander'
import { writeWhole } from '../../footage/write-file.js'
import type { Io } from '../io.js'
import { readResult, writeResultSheet } from '../result-folder.js'

export function addSheet(program: Command, io: Io): void {
  program
    .command('sheet')
    .description('write the sheet of a result again')
    .argument('<result>', 'the folder that offcut find wrote')
    .action((folder: string) => sheet(folder, io))
}

async function sheet(folder: string, io: Io): Promise<void> {
  const result = await readResult(folder)
  const staging = await mkdtemp(join(tmpdir(), 'offcut-sheet-'))
  try {
    await writeResultSheet(staging, result, io)
    // The sheet is the one thing that this command is for, so it replaces the sheet that is there.
    for (const name of ['sheet.png', 'sheet.html']) {
      await writeWhole(join(folder, name), await readFile(join(staging, name)), { overwrite: true })
    }
  } finally {
    await rm(staging, { recursive: true, force: true })
  }
  io.progress.clear()
  io.print(`sheet   ${join(folder, 'sheet.html')}, sheet.png`)
}

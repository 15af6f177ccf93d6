// offcut desk: the server runs until it is interrupted, by Ctrl-C or by the end of its terminal.
import { spawn } from 'node:child_process'
import { stat } from 'node:fs/promises'
import { tmpdir } from 'node:os'
import { dirname, join, resolve } from 'node:path'
import { type LeadingPage, makeLeadingPage } from '../../desk/leading-page.js'
import { serveDesk } from '../../desk/serve.js'
import { refuseInFootage } from '../../desk/shot-plates.js'
import { writeError } from '../../errors.js'
import { openPlate } from '../../footage/plate.js'
import { makeFolder } from '../../footage/write/make-folder.js'
import type { Io } from '../io.js'
import { lockFile } from '../lock.js'

/** A few numbered pictures that lie about are no plate; nobody said that they are. */
const A_PLATE = 10

export interface DeskFlags {
  out: string
  port?: number
  open: boolean
}

/** @throws as serveDesk; OUTPUT_LOCKED where another desk has the folder */
export async function desk(plates: readonly string[], flags: DeskFlags, io: Io): Promise<void> {
  const out = resolve(flags.out)
  await refuseFootage(plates, out)
  await makeFolder(out).catch((cause) => {
    const problem = `can't be made (${(cause as NodeJS.ErrnoException).code})`
    throw writeError('OUTPUT_UNWRITABLE', out, problem, 'choose another --out', cause)
  })
  if (!(await stat(out)).isDirectory())
    throw writeError('OUTPUT_UNWRITABLE', out, 'is a file', 'choose another --out')
  const release = await lockFile(join(out, '.offcut-lock'), out)
  try {
    const served = await serveDesk({ plates, out, here: process.cwd() }, flags.port ?? 0)
    let removePage = async () => {}
    try {
      io.print(served.address)
      io.say('Ctrl-C ends it; searches that run are stopped, and everything is saved')
      if (flags.open) removePage = await openInBrowser(served.address, io)
      await io.untilInterrupted()
    } finally {
      await removePage()
      await served.close()
    }
  } finally {
    await release()
  }
}

/**
 * Before the folder is made: it may lie among a plate's frames, also where the desk is started among them without naming them.
 *
 * @throws OUTPUT_IN_FOOTAGE, and as openPlate of the plates that are named
 */
async function refuseFootage(plates: readonly string[], out: string): Promise<void> {
  for (const spec of plates) await refuseInFootage(out, await openPlate(resolve(spec)))
  const around = await openPlate(dirname(out)).catch(() => null)
  if (around !== null && around.frames.length >= A_PLATE) await refuseInFootage(out, around)
}

/**
 * By what the platform opens a file with; where there is none, no display, or no file can be made, that is said.
 *
 * @returns what takes away the file
 */
async function openInBrowser(address: string, io: Io): Promise<() => Promise<void>> {
  const nothing = async () => {}
  const { DISPLAY, WAYLAND_DISPLAY } = process.env
  const [command, ...before] =
    process.platform === 'darwin'
      ? ['open']
      : process.platform === 'win32'
        ? ['rundll32', 'url.dll,FileProtocolHandler']
        : ['xdg-open']
  const instead = 'open the address in one on this machine'
  const hasDisplay = command !== 'xdg-open' || Boolean(DISPLAY || WAYLAND_DISPLAY)
  if (!hasDisplay) {
    io.say(`note: no browser could be opened here: ${instead}`)
    return nothing
  }
  let page: LeadingPage
  try {
    page = await makeLeadingPage(address)
  } catch (cause) {
    const { code } = cause as NodeJS.ErrnoException
    io.say(`note: no browser was opened, as no file can be made in ${tmpdir()} (${code}): ${instead}`)
    return nothing
  }
  if (await started(command, [...before, page.path])) return page.remove
  await page.remove()
  io.say(`note: no browser could be opened here: ${instead}`)
  return nothing
}

function started(command: string, args: readonly string[]): Promise<boolean> {
  return new Promise((resolve) => {
    const child = spawn(command, args, { stdio: 'ignore', detached: true })
    child.once('error', () => resolve(false))
    child.once('spawn', () => {
      child.unref()
      resolve(true)
    })
  })
}

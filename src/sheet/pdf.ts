// The sheet on paper, by whatever Chromium the machine has.
import { execFile } from 'node:child_process'
import { constants } from 'node:fs'
import { access, mkdtemp, readFile, rm } from 'node:fs/promises'
import { tmpdir } from 'node:os'
import { delimiter, join, resolve } from 'node:path'
import { pathToFileURL } from 'node:url'
import { promisify } from 'node:util'
import { OffcutError, printable } from '../errors.js'
import { writeWhole } from '../footage/write/file.js'

/** Names that a Chromium goes by on a search path, and where it lies outside of one. */
const NAMES = ['chromium', 'chromium-browser', 'google-chrome', 'google-chrome-stable', 'chrome', 'msedge']
const PLACES = [
  '/Applications/Chromium.app/Contents/MacOS/Chromium',
  '/Applications/Google Chrome.app/Contents/MacOS/Google Chrome',
  'C:\\Program Files\\Google\\Chrome\\Application\\chrome.exe',
  'C:\\Program Files (x86)\\Microsoft\\Edge\\Application\\msedge.exe',
]
/** A page of 12 MB takes seconds; a browser that hangs is given up after this. */
const PATIENCE_MS = 120_000

/** The browser's path: `CHROME_PATH` if it is set, else the first one found; null where there is none. */
export async function findChromium(env: NodeJS.ProcessEnv = process.env): Promise<string | null> {
  const folders = (env.PATH ?? '').split(delimiter).filter((folder) => folder !== '')
  const ending = process.platform === 'win32' ? '.exe' : ''
  const found = NAMES.flatMap((name) => folders.map((folder) => join(folder, name + ending)))
  for (const path of env.CHROME_PATH ? [env.CHROME_PATH] : [...found, ...PLACES]) {
    const runs = await access(path, constants.X_OK).then(
      () => true,
      () => false,
    )
    if (runs) return path
  }
  return null
}

/**
 * Prints a sheet: a page per accepted candidate, or per candidate where none is accepted.
 *
 * @throws OffcutError `NO_CHROMIUM`, `PRINT_FAILED`, `OUTPUT_EXISTS`, `OUTPUT_UNWRITABLE`, `DISK_FULL`
 */
export async function printPdf(
  htmlPath: string,
  pdfPath: string,
  { overwrite = false }: { overwrite?: boolean } = {},
): Promise<void> {
  const chromium = await findChromium()
  if (chromium === null) {
    throw new OffcutError(
      'NO_CHROMIUM',
      'printing the sheet takes Chromium or Chrome, and none was found: install one, name it in CHROME_PATH, or print sheet.html from any browser',
    )
  }
  const scratch = await mkdtemp(join(tmpdir(), 'offcut-print-'))
  const printed = join(scratch, 'sheet.pdf')
  try {
    await promisify(execFile)(
      chromium,
      [
        ...FLAGS,
        ...asRoot(),
        `--user-data-dir=${scratch}`,
        `--print-to-pdf=${printed}`,
        pathToFileURL(resolve(htmlPath)).href,
      ],
      {
        timeout: PATIENCE_MS,
      },
    )
    await writeWhole(pdfPath, await readFile(printed), { overwrite })
  } catch (cause) {
    if (cause instanceof OffcutError) throw cause
    throw new OffcutError(
      'PRINT_FAILED',
      `${printable(chromium)} did not print ${printable(htmlPath)} (${printable(firstLine(cause as Error))}): print it from a browser`,
      1,
      { cause },
    )
  } finally {
    await rm(scratch, { recursive: true, force: true, maxRetries: 3 })
  }
}

/** The page needs no network, so the browser shall not use any. */
const FLAGS = [
  '--headless',
  '--disable-gpu',
  '--no-first-run',
  '--no-pdf-header-footer',
  '--disable-background-networking',
  '--disable-component-update',
  '--disable-sync',
]

/** Chromium's sandbox does not work for root, which is what a container runs as. */
function asRoot(): string[] {
  return process.getuid?.() === 0 ? ['--no-sandbox'] : []
}

function firstLine({ message }: Error): string {
  return message.split('\n')[0].slice(0, 200)
}

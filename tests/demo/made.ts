// A part of the demo to measure: as `npm run demo` has just made it, where OFFCUT_DEMO names its folder (.ci/run does, and
// keeps there what the demo printed), else made for the test alone.
import { mkdtemp, readFile, rm } from 'node:fs/promises'
import { tmpdir } from 'node:os'
import { join } from 'node:path'

export interface MadeDemo {
  readonly folder: string
  /** What was printed of this part. */
  readonly said: string
  remove(): Promise<void>
}

/** @param make writes that part into a folder and gives what it printed */
export async function madeDemo(
  part: 'market' | 'tripod',
  make: (folder: string) => Promise<string>,
): Promise<MadeDemo> {
  const whole = process.env.OFFCUT_DEMO
  if (whole) {
    const said = linesOf(part, await readFile(join(whole, 'printed.txt'), 'utf8'))
    return { folder: join(whole, part), said, remove: async () => {} }
  }
  const folder = await mkdtemp(join(tmpdir(), `offcut-${part}-`))
  const said = await make(folder)
  return { folder, said, remove: () => rm(folder, { recursive: true, force: true }) }
}

/** The line that begins with a part's name, and those below it that go on. */
function linesOf(part: string, printed: string): string {
  const found = new RegExp(`^${part} .*\n(?: {8,}.*\n)*`, 'm').exec(printed)
  if (found === null) throw new Error(`the demo printed nothing of ${part}:\n${printed}`)
  return found[0]
}

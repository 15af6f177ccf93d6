// Where the desk of a folder was served last, so that a page that is still open finds it again. The file has the desk's secret: it is
// its owner's alone, and one that others may read is not believed.
import { readFile, stat } from 'node:fs/promises'
import { join } from 'node:path'
import * as z from 'zod'
import { writeWhole } from '../footage/write/file.js'
import { makeFolder } from '../footage/write/make-folder.js'

const FILE = '.address.json'
const addressSchema = z.strictObject({
  port: z.int().min(1).max(65_535),
  token: z.string().regex(/^[\w-]{43}$/),
})

export type Address = z.infer<typeof addressSchema>

/** @param out the desk's folder @returns null where none is known */
export async function lastAddress(out: string): Promise<Address | null> {
  try {
    const path = join(out, FILE)
    const { mode, uid } = await stat(path)
    const isOwn = process.getuid === undefined || (uid === process.getuid() && (mode & 0o077) === 0)
    const { data } = addressSchema.safeParse(JSON.parse(await readFile(path, 'utf8')))
    return isOwn && data !== undefined ? data : null
  } catch {
    return null
  }
}

/** Where it can't be kept the next desk has another address. */
export async function keepAddress(out: string, address: Address): Promise<void> {
  try {
    await makeFolder(out)
    await writeWhole(join(out, FILE), JSON.stringify(address), { overwrite: true, mode: 0o600 })
  } catch {
    // The desk itself says what is wrong with its folder.
  }
}

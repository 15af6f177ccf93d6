// Files of the cache: samples, the state of the frame file that they were made from, and a checksum. One that is damaged, or of
// an older file, is as if it were not there.
import { createHash, randomBytes } from 'node:crypto'
import { type FileHandle, open, rename, rm, stat } from 'node:fs/promises'
import xxhash from 'xxhash-wasm'

/** The frame file's state, as SHA-256, after the samples, which so stay aligned. */
const STAMP_BYTES = 32
/** XXH64 of all before it, last in the file: a disk that flips a bit says nothing. A sixth of what SHA-256 costs. */
const CHECKSUM_BYTES = 8
/** What a file has after its samples. */
export const STAMPED_BYTES = STAMP_BYTES + CHECKSUM_BYTES
const hasher = xxhash()

/**
 * Fills a buffer from a file.
 *
 * @param room room for the samples and STAMPED_BYTES, asked for once the file is there: most of what is looked for is not
 * @param from the frame file that the samples were made from
 * @returns false where it is not there, is damaged, is shorter, or was made from an older file
 */
export async function readStamped(path: string, room: () => Buffer, from: string): Promise<boolean> {
  let handle: FileHandle | undefined
  try {
    handle = await open(path)
    const bytes = room()
    const [isWhole, stamp] = await Promise.all([fills(handle, bytes, 0), stampOf(from)])
    const checked = bytes.subarray(0, bytes.length - CHECKSUM_BYTES)
    if (!isWhole || !checked.subarray(checked.length - STAMP_BYTES).equals(stamp)) return false
    return bytes.readBigUInt64LE(checked.length) === (await hasher).h64Raw(checked)
  } catch {
    return false
  } finally {
    await handle?.close()
  }
}

/** Whether a file is there and of this state; its checksum is not looked at. @param samples its bytes before the stamp */
export async function isStamped(path: string, samples: number, stamp: Buffer): Promise<boolean> {
  const said = Buffer.alloc(STAMP_BYTES)
  let handle: FileHandle | undefined
  try {
    handle = await open(path)
    return (await fills(handle, said, samples)) && said.equals(stamp)
  } catch {
    return false
  } finally {
    await handle?.close()
  }
}

/** Writes a file, whole or not at all. One that can't be written is no error. */
export async function writeStamped(path: string, samples: Uint8Array, stamp: Buffer): Promise<void> {
  const part = `${path}.${randomBytes(4).toString('hex')}.part`
  try {
    const checksum = Buffer.alloc(CHECKSUM_BYTES)
    checksum.writeBigUInt64LE((await hasher).create64().update(samples).update(stamp).digest())
    await writeParts(part, [samples, stamp, checksum])
    await rename(part, path)
  } catch {
    await rm(part, { force: true }).catch(() => {})
  }
}

/** Everything the file system says of a file that changes when its bytes do. */
export async function stampOf(path: string): Promise<Buffer> {
  const { size, mtimeNs, ctimeNs, ino, dev } = await stat(path, { bigint: true })
  return createHash('sha256').update(`${path}\0${size} ${mtimeNs} ${ctimeNs} ${ino} ${dev}`).digest()
}

/** Fills a buffer from a place in a file; false where the file is shorter. */
async function fills(handle: FileHandle, bytes: Uint8Array, at: number): Promise<boolean> {
  return (await handle.read(bytes, 0, bytes.length, at)).bytesRead === bytes.length
}

async function writeParts(path: string, parts: readonly Uint8Array[]): Promise<void> {
  const handle = await open(path, 'wx')
  try {
    const { bytesWritten } = await handle.writev(parts)
    if (bytesWritten < parts.reduce((sum, part) => sum + part.length, 0)) throw new Error('the disk is full')
  } finally {
    await handle.close()
  }
}

import {
  promises as fs,
  mkdirSync,
  mkdtempSync,
  readdirSync,
  readFileSync,
  rmSync,
  writeFileSync,
} from 'node:fs'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { afterEach, beforeEach, describe, expect, test, vi } from 'vitest'
import { option } from '../../../src/errors.js'
import { writeWhole } from '../../../src/footage/write/file.js'

let folder = ''
beforeEach(() => {
  folder = mkdtempSync(join(tmpdir(), 'offcut-write-'))
})
afterEach(() => {
  vi.restoreAllMocks()
  rmSync(folder, { recursive: true })
})

/** Makes a file handle's `writeFile` put down a few bytes and then fail as a real disk would. */
function failWriting(code: string): void {
  const open = fs.open.bind(fs)
  vi.spyOn(fs, 'open').mockImplementation(async (...args) => {
    const handle = await open(...(args as Parameters<typeof open>))
    vi.spyOn(handle, 'writeFile').mockImplementation(async () => {
      await handle.write(Buffer.from('half of it'))
      throw Object.assign(new Error(code), { code, syscall: 'write' })
    })
    return handle
  })
}

describe('writing a file', () => {
  test('it appears with all its bytes and nothing else stays in the folder', async () => {
    await writeWhole(join(folder, 'patch.1060.exr'), Buffer.from('all of it'))
    expect(readdirSync(folder)).toEqual(['patch.1060.exr'])
    expect(readFileSync(join(folder, 'patch.1060.exr'), 'utf8')).toBe('all of it')
  })

  test('pieces are put down one after the other, however many, and where the disk takes a part at a time', async () => {
    const pieces = Array.from({ length: 1100 }, (_, i) => Buffer.from(`${i} `))
    await writeWhole(join(folder, 'many'), pieces)
    const open = fs.open.bind(fs)
    vi.spyOn(fs, 'open').mockImplementation(async (...args) => {
      const handle = await open(...(args as Parameters<typeof open>))
      vi.spyOn(handle, 'writev').mockImplementation(async (buffers) => {
        const some = Buffer.concat(buffers as Uint8Array[]).subarray(0, 1001)
        await handle.write(some)
        return { bytesWritten: some.length, buffers }
      })
      return handle
    })
    await writeWhole(join(folder, 'parts'), pieces)
    const whole = Buffer.concat(pieces).toString()
    expect(readFileSync(join(folder, 'many'), 'utf8')).toBe(whole)
    expect(readFileSync(join(folder, 'parts'), 'utf8')).toBe(whole)
  })

  test('a file that is there already is refused and keeps its bytes, unless told to overwrite', async () => {
    const path = join(folder, 'patch.1060.exr')
    writeFileSync(path, 'old')
    await expect(writeWhole(path, 'new')).rejects.toMatchObject({
      code: 'OUTPUT_EXISTS',
      exitCode: 1,
      message: `${path} exists already: choose another ${option('out')}, or say ${option('overwrite')}`,
    })
    expect(readFileSync(path, 'utf8')).toBe('old')
    await writeWhole(path, 'new', { overwrite: true })
    expect(readFileSync(path, 'utf8')).toBe('new')
    expect(readdirSync(folder)).toEqual(['patch.1060.exr'])
  })

  test('of two writers of one name exactly one wins, and the file is whole', async () => {
    const path = join(folder, 'result.json')
    const texts = ['a', 'b', 'c', 'd'].map((c) => c.repeat(100_000))
    const outcomes = await Promise.allSettled(texts.map((text) => writeWhole(path, text)))
    const won = outcomes.flatMap((o, i) => (o.status === 'fulfilled' ? [texts[i]] : []))
    expect(won).toEqual([readFileSync(path, 'utf8')])
    for (const o of outcomes) if (o.status === 'rejected') expect(o.reason.code).toBe('OUTPUT_EXISTS')
    expect(readdirSync(folder)).toEqual(['result.json'])
  })

  test.each([
    ['ENOSPC', 'DISK_FULL', 'the disk is full: make room'],
    ['EDQUOT', 'DISK_FULL', 'quota'],
    ['EACCES', 'OUTPUT_UNWRITABLE', 'permission is denied'],
    ['EROFS', 'OUTPUT_UNWRITABLE', 'read-only'],
    ['EIO', 'OUTPUT_UNWRITABLE', '(EIO)'],
  ])(
    '%s half-way is told as %s and leaves neither half a file nor the old one changed',
    async (system, code, words) => {
      const path = join(folder, 'patch.1060.exr')
      writeFileSync(path, 'old')
      failWriting(system)
      const failure = await writeWhole(path, 'new', { overwrite: true }).catch((e) => e)
      expect(failure).toMatchObject({ name: 'OffcutError', code, exitCode: 1 })
      expect(failure.message).toContain(path)
      expect(failure.message).toContain(words)
      expect(readdirSync(folder)).toEqual(['patch.1060.exr'])
      expect(readFileSync(path, 'utf8')).toBe('old')
    },
  )

  test('a folder that is not there, a file in place of the folder and a folder in place of the file are each said', async () => {
    writeFileSync(join(folder, 'file'), '')
    mkdirSync(join(folder, 'folder'))
    const missing = writeWhole(join(folder, 'none', 'a.exr'), 'x')
    await expect(missing).rejects.toThrow('its folder does not exist')
    await expect(writeWhole(join(folder, 'file', 'a.exr'), 'x')).rejects.toThrow('its folder is a file')
    await expect(writeWhole(join(folder, 'folder'), 'x', { overwrite: true })).rejects.toThrow(
      'a folder has that name',
    )
    expect(readdirSync(folder)).toEqual(['file', 'folder'])
  })

  test('where the disk knows no hard links the file is still written, and still not over another', async () => {
    vi.spyOn(fs, 'link').mockRejectedValue(
      Object.assign(new Error('EPERM'), { code: 'EPERM', syscall: 'link' }),
    )
    const path = join(folder, 'a.exr')
    await writeWhole(path, 'first')
    await expect(writeWhole(path, 'second')).rejects.toMatchObject({ code: 'OUTPUT_EXISTS' })
    expect(readFileSync(path, 'utf8')).toBe('first')
    expect(readdirSync(folder)).toEqual(['a.exr'])
  })
})

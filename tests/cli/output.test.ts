import { spawnSync } from 'node:child_process'
import {
  existsSync,
  mkdirSync,
  mkdtempSync,
  readdirSync,
  readFileSync,
  rmSync,
  symlinkSync,
  writeFileSync,
} from 'node:fs'
import { hostname, tmpdir } from 'node:os'
import { join } from 'node:path'
import { afterAll, beforeEach, describe, expect, test } from 'vitest'
import { writeFolder } from '../../src/cli/output.js'
import { OffcutError } from '../../src/errors.js'
import { expectRefusal } from '../refusal.js'

const root = mkdtempSync(join(tmpdir(), 'offcut-output-'))
afterAll(() => rmSync(root, { recursive: true }))

const LOCK = '.offcut-lock'
const PLAIN = { overwrite: false, footage: [] as string[] }
let out: string
let n = 0
beforeEach(() => {
  out = join(root, `case${n++}`, 'result')
})

const two = async (staging: string) => {
  writeFileSync(join(staging, 'a.txt'), 'new a')
  writeFileSync(join(staging, 'b.txt'), 'new b')
}
const failing = (error: unknown) => async (staging: string) => {
  writeFileSync(join(staging, 'a.txt'), 'half')
  throw error
}
/** A process number that no process has: that of one that has just ended. */
const deadPid = () => spawnSync(process.execPath, ['-e', '']).pid
const holder = (pid: number, host = hostname()) => {
  mkdirSync(out, { recursive: true })
  writeFileSync(join(out, LOCK), JSON.stringify({ pid, host }))
}

describe('an output folder', () => {
  test('is made with all its files and nothing else', async () => {
    await writeFolder(out, PLAIN, two)
    expect(readdirSync(out).sort()).toEqual(['a.txt', 'b.txt'])
  })

  test('holds nothing under its final name before all is written', async () => {
    await writeFolder(out, PLAIN, async (staging) => {
      await two(staging)
      expect(existsSync(join(out, 'a.txt'))).toBe(false)
      expect(existsSync(join(staging, 'a.txt'))).toBe(true)
    })
  })

  test('that holds files is refused by name and left as it was', async () => {
    mkdirSync(out, { recursive: true })
    writeFileSync(join(out, 'a.txt'), 'old')
    await expectRefusal(() => writeFolder(out, PLAIN, two), {
      code: 'OUTPUT_EXISTS',
      exitCode: 1,
      says: [out, 'a.txt', '--overwrite'],
    })
    expect(readdirSync(out)).toEqual(['a.txt'])
    expect(readFileSync(join(out, 'a.txt'), 'utf8')).toBe('old')
  })

  test('is replaced on request, file by file, and what is not written again stays', async () => {
    mkdirSync(out, { recursive: true })
    writeFileSync(join(out, 'a.txt'), 'old')
    writeFileSync(join(out, 'mine.txt'), 'keep')
    await writeFolder(out, { ...PLAIN, overwrite: true }, two)
    expect(readdirSync(out).sort()).toEqual(['a.txt', 'b.txt', 'mine.txt'])
    expect(readFileSync(join(out, 'a.txt'), 'utf8')).toBe('new a')
  })

  test('that exists and is empty is used', async () => {
    mkdirSync(out, { recursive: true })
    await writeFolder(out, PLAIN, two)
    expect(readdirSync(out).sort()).toEqual(['a.txt', 'b.txt'])
  })
})

describe('work that fails half-way', () => {
  test('leaves no folder that was not there, not even its parents', async () => {
    const error = new OffcutError('INTERRUPTED', 'interrupted', 1)
    const deep = join(out, 'made', 'for', 'this')
    await expect(writeFolder(deep, PLAIN, failing(error))).rejects.toBe(error)
    expect(existsSync(join(out))).toBe(false)
  })

  test('leaves the files of an earlier run whole, and a second try works', async () => {
    mkdirSync(out, { recursive: true })
    writeFileSync(join(out, 'a.txt'), 'old')
    const again = { ...PLAIN, overwrite: true }
    await expect(writeFolder(out, again, failing(new Error('slip')))).rejects.toThrow('slip')
    expect(readdirSync(out)).toEqual(['a.txt'])
    expect(readFileSync(join(out, 'a.txt'), 'utf8')).toBe('old')
    await writeFolder(out, again, two)
    expect(readFileSync(join(out, 'a.txt'), 'utf8')).toBe('new a')
  })

  test.each([
    { code: 'ENOSPC', wanted: 'DISK_FULL', says: 'disk is full' },
    { code: 'EDQUOT', wanted: 'DISK_FULL', says: 'disk is full' },
    { code: 'EROFS', wanted: 'OUTPUT_UNWRITABLE', says: 'EROFS' },
    { code: 'EACCES', wanted: 'OUTPUT_UNWRITABLE', says: 'EACCES' },
  ])('because of $code says so with the folder and what to do', async ({ code, wanted, says }) => {
    const error = Object.assign(new Error(`${code}: write`), { code, syscall: 'write' })
    await expectRefusal(() => writeFolder(out, PLAIN, failing(error)), {
      code: wanted,
      exitCode: 1,
      says: [out, says, 'choose another --out'],
    })
    expect(existsSync(out)).toBe(false)
  })
})

describe('a folder that can not be written', () => {
  test('because a file has its name is refused and the file stays', async () => {
    mkdirSync(join(out, '..'), { recursive: true })
    writeFileSync(out, 'a file')
    await expectRefusal(() => writeFolder(out, PLAIN, two), {
      code: 'OUTPUT_UNWRITABLE',
      exitCode: 1,
      says: [out, 'EEXIST', 'choose another --out'],
    })
    expect(readFileSync(out, 'utf8')).toBe('a file')
  })

  test('because a file has its parent’s name is refused', async () => {
    mkdirSync(join(out, '..'), { recursive: true })
    writeFileSync(out, 'a file')
    const below = join(out, 'result')
    await expectRefusal(() => writeFolder(below, PLAIN, two), {
      code: 'OUTPUT_UNWRITABLE',
      exitCode: 1,
      says: [below, 'ENOTDIR'],
    })
  })

  // A file system that refuses even the superuser; only Linux has it everywhere.
  test.runIf(existsSync('/sys/kernel'))('because its disk takes no folders is refused', async () => {
    await expectRefusal(() => writeFolder('/sys/offcut-result', PLAIN, two), {
      code: 'OUTPUT_UNWRITABLE',
      exitCode: 1,
      says: ['/sys/offcut-result', 'choose another --out'],
    })
  })
})

describe('the footage’s own folder', () => {
  const refused = async (target: string, footage: string) => {
    await expectRefusal(() => writeFolder(target, { overwrite: true, footage: [footage] }, two), {
      code: 'OUTPUT_IN_FOOTAGE',
      exitCode: 2,
      says: [target, footage, '--out'],
    })
  }

  test('is never written to, nor anything below it, not even with --overwrite', async () => {
    const footage = join(out, 'plate')
    mkdirSync(footage, { recursive: true })
    await refused(footage, footage)
    await refused(join(footage, 'result'), footage)
    await refused(join(footage, 'not', 'there', 'yet'), footage)
    expect(readdirSync(footage)).toEqual([])
  })

  test('is known behind a link', async () => {
    const footage = join(out, 'plate')
    mkdirSync(footage, { recursive: true })
    symlinkSync(footage, join(out, 'link'))
    await refused(join(out, 'link', 'result'), footage)
    expect(readdirSync(footage)).toEqual([])
  })

  test('does not keep its neighbours from being written', async () => {
    const footage = join(out, 'plate')
    mkdirSync(footage, { recursive: true })
    await writeFolder(join(out, 'plate-result'), { overwrite: false, footage: [footage] }, two)
    expect(readdirSync(join(out, 'plate-result'))).toHaveLength(2)
  })
})

describe('a lock', () => {
  test('of a live run is refused with its process and host, and stays', async () => {
    holder(process.pid)
    await expectRefusal(() => writeFolder(out, PLAIN, two), {
      code: 'OUTPUT_LOCKED',
      exitCode: 1,
      says: [out, String(process.pid), hostname(), LOCK],
    })
    expect(readdirSync(out)).toEqual([LOCK])
  })

  test('of another machine is believed', async () => {
    holder(deadPid(), 'elsewhere')
    await expectRefusal(() => writeFolder(out, PLAIN, two), {
      code: 'OUTPUT_LOCKED',
      exitCode: 1,
      says: [out, 'elsewhere'],
    })
  })

  test('of a run that is gone is taken over, with the half-written files it left', async () => {
    holder(deadPid())
    mkdirSync(join(out, '.offcut-part'))
    writeFileSync(join(out, '.offcut-part', 'old.txt'), 'half')
    await writeFolder(out, PLAIN, two)
    expect(readdirSync(out).sort()).toEqual(['a.txt', 'b.txt'])
  })

  test('that was cut off while it was written is taken over', async () => {
    mkdirSync(out, { recursive: true })
    for (const text of ['', '{"pid":', '[]', 'null', '{"pid":"x"}']) {
      writeFileSync(join(out, LOCK), text)
      await writeFolder(out, { ...PLAIN, overwrite: true }, two)
      expect(readdirSync(out).sort()).toEqual(['a.txt', 'b.txt'])
    }
  })

  test('lets one of two runs at a time through, and the other leaves nothing behind', async () => {
    const results = await Promise.allSettled([writeFolder(out, PLAIN, two), writeFolder(out, PLAIN, two)])
    const lost = results.filter((r) => r.status === 'rejected')
    expect(lost).toHaveLength(1)
    expect(['OUTPUT_LOCKED', 'OUTPUT_EXISTS']).toContain((lost[0].reason as OffcutError).code)
    expect(readdirSync(out).sort()).toEqual(['a.txt', 'b.txt'])
  })
})

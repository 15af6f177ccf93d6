import {
  existsSync,
  lstatSync,
  mkdirSync,
  mkdtempSync,
  readdirSync,
  readFileSync,
  renameSync,
  rmSync,
  symlinkSync,
  writeFileSync,
} from 'node:fs'
import { hostname, tmpdir } from 'node:os'
import { join } from 'node:path'
import { afterAll, beforeEach, describe, expect, test } from 'vitest'
import { refuseFolder, writeFolder } from '../../src/cli/output.js'
import { holdsMountPoint, replaceFolder } from '../../src/cli/replace-folder.js'
import { OffcutError, writeError } from '../../src/errors.js'
import { expectRefusal } from '../refusal.js'

const root = mkdtempSync(join(tmpdir(), 'offcut-output-'))
afterAll(() => rmSync(root, { recursive: true }))

const MADE = '.offcut-files.json'
let notes: string[] = []
const note = (text: string) => notes.push(text)
const PLAIN = { overwrite: false, footage: [] as string[], note }
const AGAIN = { ...PLAIN, overwrite: true }
let out: string
let n = 0
beforeEach(() => {
  out = join(root, `case${n++}`, 'result')
  notes = []
})

/** What a folder shows; the hidden list of what offcut made is its own business. */
const shown = (folder: string) =>
  readdirSync(folder)
    .filter((name) => name !== MADE)
    .sort()
/** What lies beside the output folder. */
const beside = () => readdirSync(join(out, '..')).filter((name) => name !== 'result')

const two = async (staging: string) => {
  writeFileSync(join(staging, 'a.txt'), 'new a')
  writeFileSync(join(staging, 'b.txt'), 'new b')
}
const failing = (error: unknown) => async (staging: string) => {
  writeFileSync(join(staging, 'a.txt'), 'half')
  throw error
}
/** A folder that an earlier run made: a.txt, old.txt. */
const earlier = () =>
  writeFolder(out, PLAIN, async (staging) => {
    writeFileSync(join(staging, 'a.txt'), 'old')
    writeFileSync(join(staging, 'old.txt'), 'old')
  })

describe('an output folder', () => {
  test('can be tried beforehand: what may be written leaves nothing, what may not is refused alike', async () => {
    await refuseFolder(out, PLAIN)
    expect(existsSync(join(out, '..'))).toBe(false)
    await earlier()
    await refuseFolder(out, AGAIN)
    expect(shown(out)).toEqual(['a.txt', 'old.txt'])
    const held = { code: 'OUTPUT_EXISTS', exitCode: 1, says: [out, '--overwrite'] } as const
    await expectRefusal(() => refuseFolder(out, PLAIN), held)
    const below = join(out, 'a.txt', 'below')
    const blocked = { code: 'OUTPUT_UNWRITABLE', exitCode: 1, says: [below, 'its folder is a file'] } as const
    await expectRefusal(() => refuseFolder(below, PLAIN), blocked)
    expect(beside()).toEqual([])
  })

  test('is made with all its files and nothing else', async () => {
    await writeFolder(out, PLAIN, two)
    expect(shown(out)).toEqual(['a.txt', 'b.txt'])
    expect(beside()).toEqual([])
  })

  test('holds nothing under its final name before all is written', async () => {
    await writeFolder(out, PLAIN, async (staging) => {
      await two(staging)
      expect(existsSync(join(out, 'a.txt'))).toBe(false)
      expect(existsSync(join(staging, 'a.txt'))).toBe(true)
    })
  })

  test('of an earlier run is refused by name and left as it was', async () => {
    await earlier()
    await expectRefusal(() => writeFolder(out, PLAIN, two), {
      code: 'OUTPUT_EXISTS',
      exitCode: 1,
      says: [out, 'a.txt', '--overwrite'],
    })
    expect(shown(out)).toEqual(['a.txt', 'old.txt'])
    expect(readFileSync(join(out, 'a.txt'), 'utf8')).toBe('old')
  })

  test('that no run made is not replaced, not even with --overwrite', async () => {
    mkdirSync(join(out, 'home'), { recursive: true })
    writeFileSync(join(out, 'a.txt'), 'mine')
    await expectRefusal(() => writeFolder(out, AGAIN, two), {
      code: 'OUTPUT_EXISTS',
      exitCode: 1,
      says: [out, 'a.txt', 'did not make', 'choose another --out'],
    })
    expect(readdirSync(out).sort()).toEqual(['a.txt', 'home'])
    expect(readFileSync(join(out, 'a.txt'), 'utf8')).toBe('mine')
  })

  test('of an earlier version, which listed nothing, is told as such and left as it was', async () => {
    mkdirSync(out, { recursive: true })
    writeFileSync(join(out, 'result.json'), '{ "schema": "offcut.result/1" }')
    await expectRefusal(() => writeFolder(out, AGAIN, two), {
      code: 'OUTPUT_EXISTS',
      exitCode: 1,
      says: [out, 'earlier version', 'remove it by hand'],
    })
    expect(readdirSync(out)).toEqual(['result.json'])
  })

  test('is replaced on request, and no frame of a longer earlier run stays among the new', async () => {
    await earlier()
    await writeFolder(out, AGAIN, two)
    expect(shown(out)).toEqual(['a.txt', 'b.txt'])
    expect(readFileSync(join(out, 'a.txt'), 'utf8')).toBe('new a')
    expect(notes).toEqual([`note: gone from ${out}, of the run that is replaced: old.txt`])
  })

  test('keeps what the user and other runs put there when it is replaced, and says so', async () => {
    await earlier()
    writeFileSync(join(out, 'decisions.json'), 'yes')
    mkdirSync(join(out, 'scans', 'empty'), { recursive: true })
    symlinkSync('decisions.json', join(out, 'link'))
    const patch = join(out, 'patch-hold-1')
    await writeFolder(patch, PLAIN, two)
    await writeFolder(out, AGAIN, two)
    expect(shown(out)).toEqual(['a.txt', 'b.txt', 'decisions.json', 'link', 'patch-hold-1', 'scans'])
    expect(readFileSync(join(out, 'link'), 'utf8')).toBe('yes')
    expect(readdirSync(join(out, 'scans'))).toEqual(['empty'])
    expect(shown(patch)).toEqual(['a.txt', 'b.txt'])
    expect(notes[0]).toBe(`note: kept in ${out}, not of this run: decisions.json, link, patch-hold-1, scans`)
    // A run into the folder that was kept still knows what is its own.
    await writeFolder(patch, AGAIN, async (staging) => writeFileSync(join(staging, 'c.txt'), 'c'))
    expect(shown(patch)).toEqual(['c.txt'])
  })

  test('keeps a note in a subfolder that is replaced, and the subfolder goes where nothing is in it', async () => {
    const deep = async (staging: string) => {
      for (const name of ['ratio', 'more']) {
        mkdirSync(join(staging, name))
        writeFileSync(join(staging, name, 'f.1.exr'), 'old')
      }
    }
    await writeFolder(out, PLAIN, deep)
    writeFileSync(join(out, 'ratio', 'mine.txt'), 'mine')
    await writeFolder(out, AGAIN, two)
    expect(shown(out)).toEqual(['a.txt', 'b.txt', 'ratio'])
    expect(readdirSync(join(out, 'ratio'))).toEqual(['mine.txt'])
  })

  test('that is only added to keeps all that it holds, and knows it as its own afterwards', async () => {
    await earlier()
    await writeFolder(out, { ...AGAIN, adds: true }, two)
    expect(shown(out)).toEqual(['a.txt', 'b.txt', 'old.txt'])
    expect(readFileSync(join(out, 'a.txt'), 'utf8')).toBe('new a')
    expect(notes).toEqual([])
    await writeFolder(out, AGAIN, two)
    expect(shown(out)).toEqual(['a.txt', 'b.txt'])
  })

  test('below which another run is writing is not taken from under it', async () => {
    await earlier()
    await writeFolder(join(out, 'patch'), PLAIN, async (staging) => {
      await two(staging)
      await expectRefusal(() => writeFolder(out, AGAIN, two), {
        code: 'OUTPUT_LOCKED',
        exitCode: 1,
        says: [out, '.patch.offcut-lock'],
      })
    })
    expect(shown(join(out, 'patch'))).toEqual(['a.txt', 'b.txt'])
    expect(shown(out)).toEqual(['a.txt', 'old.txt', 'patch'])
  })

  test('that the shell stands in is refused before any work', async () => {
    await earlier()
    const stood = process.cwd()
    process.chdir(out)
    try {
      const untried = () => expect.unreachable('work was begun')
      await expectRefusal(() => writeFolder('.', AGAIN, untried), {
        code: 'MISUSE',
        exitCode: 2,
        says: ['--out', 'stand in'],
      })
    } finally {
      process.chdir(stood)
    }
    expect(shown(out)).toEqual(['a.txt', 'old.txt'])
  })

  test('behind a link is replaced, and the link stays one', async () => {
    await earlier()
    const link = join(out, '..', 'link')
    symlinkSync(out, link)
    await writeFolder(link, AGAIN, two)
    expect(lstatSync(link).isSymbolicLink()).toBe(true)
    expect(shown(out)).toEqual(['a.txt', 'b.txt'])
  })

  test('that exists and is empty is used', async () => {
    mkdirSync(out, { recursive: true })
    await writeFolder(out, PLAIN, two)
    expect(shown(out)).toEqual(['a.txt', 'b.txt'])
  })
})

describe('work that fails half-way', () => {
  test('leaves no folder that was not there, not even its parents', async () => {
    const error = new OffcutError('INTERRUPTED', 'interrupted', 1)
    const deep = join(out, 'made', 'for', 'this')
    await expect(writeFolder(deep, PLAIN, failing(error))).rejects.toBe(error)
    expect(existsSync(join(out))).toBe(false)
  })

  test('leaves what another run has finished meanwhile in a folder that it made', async () => {
    const results = join(out, 'results')
    const error = new OffcutError('INTERRUPTED', 'interrupted', 1)
    const stopped = writeFolder(join(results, 'a'), PLAIN, async () => {
      await writeFolder(join(results, 'b'), PLAIN, two)
      writeFileSync(join(out, 'notes.txt'), 'mine')
      throw error
    })
    await expect(stopped).rejects.toBe(error)
    expect(readdirSync(results)).toEqual(['b'])
    expect(shown(join(results, 'b'))).toEqual(['a.txt', 'b.txt'])
    expect(readdirSync(out).sort()).toEqual(['notes.txt', 'results'])
  })

  test('leaves the folder itself to whoever put something there meanwhile', async () => {
    const stopped = writeFolder(out, PLAIN, async (staging) => {
      mkdirSync(out)
      writeFileSync(join(out, 'notes.txt'), 'mine')
      return failing(new Error('slip'))(staging)
    })
    await expect(stopped).rejects.toThrow('slip')
    expect(readdirSync(out)).toEqual(['notes.txt'])
    expect(beside()).toEqual([])
  })

  test('leaves the files of an earlier run whole, and a second try works', async () => {
    await earlier()
    await expect(writeFolder(out, AGAIN, failing(new Error('slip')))).rejects.toThrow('slip')
    expect(shown(out)).toEqual(['a.txt', 'old.txt'])
    expect(readFileSync(join(out, 'a.txt'), 'utf8')).toBe('old')
    expect(beside()).toEqual([])
    await writeFolder(out, AGAIN, two)
    expect(readFileSync(join(out, 'a.txt'), 'utf8')).toBe('new a')
  })

  test.each([
    { code: 'ENOSPC', wanted: 'DISK_FULL', says: 'disk is full' },
    { code: 'EDQUOT', wanted: 'DISK_FULL', says: 'disk is full' },
    { code: 'EROFS', wanted: 'OUTPUT_UNWRITABLE', says: 'the disk is read-only' },
    { code: 'EACCES', wanted: 'OUTPUT_UNWRITABLE', says: 'permission is denied' },
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

test('a frame for which the disk has no room is named where it was asked for, not where it was being made', async () => {
  const noRoom = async (staging: string) => {
    throw writeError('DISK_FULL', join(staging, 'quay.1001.exr'), 'is full', 'make room')
  }
  const refused = writeFolder(out, PLAIN, noRoom)
  await expect(refused).rejects.toMatchObject({
    code: 'DISK_FULL',
    exitCode: 1,
    message: `${join(out, 'quay.1001.exr')} is full: make room`,
  })
})

describe('a folder that can not be written', () => {
  test('because a file has its name is refused and the file stays', async () => {
    mkdirSync(join(out, '..'), { recursive: true })
    writeFileSync(out, 'a file')
    await expectRefusal(() => writeFolder(out, PLAIN, two), {
      code: 'OUTPUT_UNWRITABLE',
      exitCode: 1,
      says: [out, 'a file has its name', 'choose another --out'],
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
      says: [below, 'its folder is a file', 'choose another --out'],
    })
  })

  // File systems that refuse even the superuser; only Linux has them everywhere.
  test.runIf(existsSync('/proc/self')).each([
    '/sys/offcut-result',
    '/sys/offcut/deep/result',
    // Answers ENOENT to every new folder, so that a parent seems to be missing for ever.
    '/proc/offcut-result',
    '/proc/offcut/deep/result',
    '/dev/null/offcut-result',
  ])('because %s can be no folder is refused at once', async (folder) => {
    await expectRefusal(() => writeFolder(folder, PLAIN, two), {
      code: 'OUTPUT_UNWRITABLE',
      exitCode: 1,
      says: [folder, 'choose another --out'],
    })
  })

  test.runIf(existsSync('/proc/self/mountinfo'))('because a disk is mounted there is refused', async () => {
    expect(await holdsMountPoint('/proc')).toBe(true)
    expect(await holdsMountPoint('/')).toBe(true)
    expect(await holdsMountPoint(root)).toBe(false)
    expect(await holdsMountPoint(join(root, 'not-there'))).toBe(false)
  })
})

describe('the footage’s own folder', () => {
  const refused = async (target: string, footage: string) => {
    await expectRefusal(() => writeFolder(target, { ...AGAIN, footage: [footage] }, two), {
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
    await writeFolder(join(out, 'plate-result'), { ...PLAIN, footage: [footage] }, two)
    expect(shown(join(out, 'plate-result'))).toHaveLength(2)
  })

  test('is not carried along with a folder that is replaced', async () => {
    await earlier()
    const footage = join(out, 'plate')
    mkdirSync(footage)
    await expectRefusal(() => writeFolder(out, { ...AGAIN, footage: [footage] }, two), {
      code: 'OUTPUT_HOLDS_FOOTAGE',
      exitCode: 2,
      says: [out, footage, '--out'],
    })
  })
})

describe('a lock', () => {
  const lock = () => join(out, '..', '.result.offcut-lock')

  test('of a live run is refused with its process and host, and that run ends well', async () => {
    await writeFolder(out, PLAIN, async (staging) => {
      await two(staging)
      await expectRefusal(() => writeFolder(out, PLAIN, two), {
        code: 'OUTPUT_LOCKED',
        exitCode: 1,
        says: [out, String(process.pid), hostname()],
      })
    })
    expect(shown(out)).toEqual(['a.txt', 'b.txt'])
    expect(beside()).toEqual([])
  })

  test('that a run left which is gone is taken over, whatever it says and wherever it ran', async () => {
    mkdirSync(join(out, '..'), { recursive: true })
    const elsewhere = JSON.stringify({ pid: process.pid, host: 'elsewhere' })
    for (const text of [
      elsewhere,
      JSON.stringify({ pid: process.pid, host: hostname() }),
      '',
      '{"pid":',
      'null',
    ]) {
      writeFileSync(lock(), text)
      const part = join(out, '..', '.result.offcut-part')
      mkdirSync(part)
      writeFileSync(join(part, 'old.txt'), 'half')
      await writeFolder(out, AGAIN, two)
      expect(shown(out)).toEqual(['a.txt', 'b.txt'])
      expect(beside()).toEqual([])
    }
  })

  test('lets one of many runs at a time through, and the others leave nothing behind', async () => {
    const results = await Promise.allSettled(Array.from({ length: 20 }, () => writeFolder(out, PLAIN, two)))
    const lost = results.filter((r) => r.status === 'rejected')
    expect(lost).toHaveLength(19)
    for (const { reason } of lost)
      expect(['OUTPUT_LOCKED', 'OUTPUT_EXISTS']).toContain((reason as OffcutError).code)
    expect(shown(out)).toEqual(['a.txt', 'b.txt'])
    expect(beside()).toEqual([])
  })
})

describe('a disk that can not exchange two names', () => {
  const aside = () => join(out, '..', '.result.offcut-old')
  const next = () => join(out, '..', '.result.offcut-part')
  const cannot = async () => {
    throw Object.assign(new Error('no exchange here'), { code: 'EINVAL' })
  }

  test('gets the new folder in the old one’s place all the same', async () => {
    await earlier()
    mkdirSync(next())
    await replaceFolder(next(), out, aside(), cannot)
    expect(shown(out)).toEqual([])
    expect(shown(next())).toEqual(['a.txt', 'old.txt'])
    expect(existsSync(aside())).toBe(false)
  })

  test('is given back the old folder that a run killed between two renames had laid aside', async () => {
    await earlier()
    renameSync(out, aside())
    await expectRefusal(() => writeFolder(out, PLAIN, two), {
      code: 'OUTPUT_EXISTS',
      exitCode: 1,
      says: [out, 'a.txt'],
    })
    expect(shown(out)).toEqual(['a.txt', 'old.txt'])
    expect(beside()).toEqual([])
  })

  test('is cleared of the old folder whose place had been taken when the run was killed', async () => {
    await earlier()
    mkdirSync(aside())
    writeFileSync(join(aside(), 'a.txt'), 'older')
    await writeFolder(out, AGAIN, two)
    expect(beside()).toEqual([])
  })
})

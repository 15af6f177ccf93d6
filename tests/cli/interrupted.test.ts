// A run that is stopped by Ctrl-C, or killed outright: a real process, because only that can be killed.
import { type ChildProcess, spawn, spawnSync } from 'node:child_process'
import { existsSync, mkdirSync, mkdtempSync, readdirSync, readFileSync, rmSync, writeFileSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { basename, dirname, join, resolve } from 'node:path'
import { pathToFileURL } from 'node:url'
import { afterAll, beforeAll, describe, expect, test } from 'vitest'
import { type Planted, plantPlate } from '../synthetic.js'
import { transpile } from '../transpile.mjs'
import { cli } from './cli.js'

const top = resolve(import.meta.dirname, '../..')
// Below node_modules, so that packages resolve from there.
const built = join(top, 'node_modules', '.cache', `offcut-interrupted-${process.pid}`)
const root = mkdtempSync(join(tmpdir(), 'offcut-interrupted-'))
let plate: Planted
/** A result whose patch takes long enough to be caught half-way. */
let result: string

beforeAll(async () => {
  await transpile(built)
  const start = `import { run } from ${JSON.stringify(pathToFileURL(join(built, 'src/cli/run.js')).href)}
process.exitCode = await run(process.argv.slice(2))`
  writeFileSync(join(built, 'offcut.mjs'), start)
  plate = await plantPlate(join(root, 'plate'), { frames: 30 })
  result = join(root, 'result')
  const done = await cli(...FIND(), '--frames', '1001-1020', '--out', result)
  expect(done.code, done.stderr).toBe(0)
}, 120_000)
afterAll(() => {
  rmSync(root, { recursive: true })
  rmSync(built, { recursive: true })
})

const FIND = () => [
  'find',
  plate.folder,
  '--box',
  '60,40,20,20',
  '--reach',
  '2',
  '--surround',
  '8',
  '--keep',
  '1',
]
const pickOf = () => JSON.parse(readFileSync(join(result, 'result.json'), 'utf8')).candidates[0].id as string
const PATCH = () => ['patch', result, '--pick', pickOf(), '--whole']

interface Ended {
  readonly code: number | null
  readonly signal: NodeJS.Signals | null
  readonly stderr: string
}

/** Starts offcut and sends it a signal as soon as `ripe` holds. */
async function stopped(argv: string[], signal: NodeJS.Signals, ripe: () => boolean): Promise<Ended> {
  const child: ChildProcess = spawn(process.execPath, [join(built, 'offcut.mjs'), ...argv], {
    stdio: ['ignore', 'ignore', 'pipe'],
  })
  let stderr = ''
  child.stderr!.on('data', (text) => {
    stderr += text
  })
  const ended = new Promise<Ended>((done) => {
    child.on('close', (code, by) => done({ code, signal: by, stderr }))
  })
  const watch = setInterval(() => {
    if (!ripe()) return
    clearInterval(watch)
    child.kill(signal)
  }, 1)
  const how = await ended
  clearInterval(watch)
  return how
}

function bytesIn(folder: string): Map<string, string> {
  return new Map(
    readdirSync(folder).map((name) => [name, readFileSync(join(folder, name)).toString('base64')]),
  )
}

/** Where a run writes until it is done. */
const partOf = (out: string) => join(dirname(out), `.${basename(out)}.offcut-part`)
/** True once the run into `out` has begun to write frames. */
const midway = (out: string) => () => {
  const part = partOf(out)
  return existsSync(part) && readdirSync(part).some((name) => name.endsWith('.png') && !name.startsWith('.'))
}
/** Locks and unfinished folders. */
const leftBeside = (out: string) =>
  readdirSync(dirname(out)).filter((name) => name.startsWith(`.${basename(out)}.`))
const begun = (out: string) => () => existsSync(partOf(out))

describe.each(['SIGINT', 'SIGTERM', 'SIGHUP'] as const)('a run that gets %s', (signal) => {
  test('half-way through a patch ends with 1, says so, and leaves nothing', async () => {
    const out = join(root, `patch-${signal}`)
    const { code, stderr } = await stopped([...PATCH(), '--out', out], signal, midway(out))
    expect(code).toBe(1)
    expect(stderr).toContain('offcut: interrupted: nothing is left half written')
    expect(existsSync(out)).toBe(false)
    expect(leftBeside(out)).toEqual([])
  }, 30_000)

  test('leaves the finished result of another run in the folder that it had made', async () => {
    const results = join(root, `results-${signal}`)
    const out = join(results, 'a')
    const other = join(results, 'b')
    const ripe = () => {
      if (!begun(out)()) return false
      mkdirSync(other, { recursive: true })
      writeFileSync(join(other, 'result.json'), '{}')
      return true
    }
    const { code } = await stopped([...FIND(), '--frames', '1001-1002', '--out', out], signal, ripe)
    expect(code).toBe(1)
    expect(readdirSync(results)).toEqual(['b'])
    expect(readdirSync(other)).toEqual(['result.json'])
  }, 30_000)

  test('while it reads the plate ends with 1, and leaves nothing', async () => {
    const out = join(root, `find-${signal}`)
    const argv = [...FIND(), '--frames', '1001-1002', '--out', out]
    const { code, stderr } = await stopped(argv, signal, begun(out))
    expect(code).toBe(1)
    expect(stderr).toContain('interrupted')
    expect(existsSync(out)).toBe(false)
  }, 30_000)
})

describe('a run that is killed outright', () => {
  test('half-way through a patch shows no half-written frame, and a second run gives the same bytes', async () => {
    const clean = join(root, 'patch-clean')
    expect((await cli(...PATCH(), '--out', clean)).code).toBe(0)
    const out = join(root, 'patch-killed')
    const { signal } = await stopped([...PATCH(), '--out', out], 'SIGKILL', midway(out))
    expect(signal).toBe('SIGKILL')
    expect(existsSync(out)).toBe(false)
    const again = await cli(...PATCH(), '--out', out)
    expect(again.code, again.stderr).toBe(0)
    expect(bytesIn(out)).toEqual(bytesIn(clean))
  }, 30_000)

  test('during a search leaves no result, and a second run gives the same bytes', async () => {
    const argv = [...FIND(), '--frames', '1001-1002']
    const clean = join(root, 'find-clean')
    expect((await cli(...argv, '--out', clean)).code).toBe(0)
    const out = join(root, 'find-killed')
    const { signal } = await stopped([...argv, '--out', out], 'SIGKILL', begun(out))
    expect(signal).toBe('SIGKILL')
    expect(existsSync(out)).toBe(false)
    const again = await cli(...argv, '--out', out)
    expect(again.code, again.stderr).toBe(0)
    expect([...bytesIn(out).keys()].sort()).toEqual([...bytesIn(clean).keys()].sort())
    for (const [name, bytes] of bytesIn(clean)) expect(bytesIn(out).get(name) === bytes, name).toBe(true)
  }, 60_000)
})

/** Starts a script of its own that uses the compiled sources. */
function script(name: string, text: string): string {
  const path = join(built, name)
  writeFileSync(path, text.replace('OUTPUT', pathToFileURL(join(built, 'src/cli/output.js')).href))
  return path
}

describe('a folder that is replaced over and over, by runs of 30 and of 10 frames in turn', () => {
  test('is wholly one run’s whenever its run is killed, with the user’s own files in it', async () => {
    const out = join(root, 'replaced')
    const replacing = script(
      'replacing.mjs',
      `import { writeFolder } from 'OUTPUT'
import { writeFileSync } from 'node:fs'
import { join } from 'node:path'
const [out, from] = process.argv.slice(2)
for (let run = Number(from); ; run++)
  await writeFolder(out, { overwrite: true, footage: [], note() {} }, async (staging) => {
    for (let f = 0; f < (run % 2 ? 10 : 30); f++) writeFileSync(join(staging, 'f.' + f), String(run))
    process.stdout.write('.')
  })`,
    )
    let latest = 0
    const notes = join(out, 'notes.txt')
    let noted = false
    for (let kill = 0; kill < 20; kill++) {
      const child = spawn(process.execPath, [replacing, out, String(100 * kill)])
      const ended = new Promise((done) => child.on('close', done))
      // Once it is under way, at any moment of what is a few milliseconds' work.
      await new Promise((done) => child.stdout.once('data', done))
      await new Promise((done) => setTimeout(done, (kill * 7) % 23))
      child.kill('SIGKILL')
      await ended
      if (!existsSync(out)) continue
      const names = readdirSync(out)
      const frames = names.filter((name) => name.startsWith('f.'))
      const runs = new Set(frames.map((name) => readFileSync(join(out, name), 'utf8')))
      expect(runs.size, `frames of runs ${[...runs]}`).toBe(1)
      latest = Number([...runs][0])
      expect(frames).toHaveLength(latest % 2 ? 10 : 30)
      if (noted) expect(names).toContain('notes.txt')
      else writeFileSync(notes, 'mine')
      noted = true
    }
    expect(latest).toBeGreaterThan(100)
  }, 60_000)
})

describe('a lock whose run is gone', () => {
  test('is taken over by exactly one of twelve processes that come at once', async () => {
    const racing = script(
      'racing.mjs',
      `import { writeFolder } from 'OUTPUT'
import { existsSync, writeFileSync } from 'node:fs'
import { join } from 'node:path'
const [out, all] = process.argv.slice(2)
await writeFolder(out, { overwrite: true, footage: [], note() {} }, async (staging) => {
  process.stdout.write('in')
  writeFileSync(join(staging, 'a.txt'), String(process.pid))
  while (!existsSync(all)) await new Promise((done) => setTimeout(done, 10))
}).catch((error) => process.stdout.write(error.code))`,
    )
    for (let round = 0; round < 3; round++) {
      const out = join(root, `raced-${round}`)
      writeFileSync(join(root, `.raced-${round}.offcut-lock`), JSON.stringify({ pid: 1, host: 'elsewhere' }))
      const all = join(root, `all-${round}`)
      const racers = Array.from({ length: 12 }, () => {
        const child = spawn(process.execPath, [racing, out, all])
        const said = new Promise<string>((done) => child.stdout.once('data', (text) => done(String(text))))
        return { said, ended: new Promise((done) => child.on('close', done)) }
      })
      const said = await Promise.all(racers.map((racer) => racer.said))
      // Whoever is in stays there until all have tried.
      writeFileSync(all, '')
      await Promise.all(racers.map((racer) => racer.ended))
      expect(said.sort()).toEqual([...Array(11).fill('OUTPUT_LOCKED'), 'in'])
      expect(readdirSync(out)).toContain('a.txt')
      expect(leftBeside(out)).toEqual([])
    }
  }, 60_000)
})

test('a run whose reader has gone ends with 1 and leaves neither lock nor unfinished folder', async () => {
  const out = join(root, 'piped')
  const argv = [...FIND(), '--frames', '1001-1002', '--out', out]
  const child = spawn(process.execPath, [join(built, 'offcut.mjs'), ...argv], {
    stdio: ['ignore', 'ignore', 'pipe'],
  })
  child.stderr.destroy()
  expect(await new Promise((done) => child.on('exit', done))).toBe(1)
  expect(existsSync(out)).toBe(false)
  expect(leftBeside(out)).toEqual([])
}, 30_000)

test('help of which only the first lines are read ends without a complaint', async () => {
  const child = spawn(process.execPath, [join(built, 'offcut.mjs'), '--help'], {
    stdio: ['ignore', 'pipe', 'pipe'],
  })
  let said = ''
  child.stderr.on('data', (text) => {
    said += text
  })
  child.stdout.destroy()
  expect(await new Promise((done) => child.on('close', done))).toBe(1)
  expect(said).toBe('')
}, 30_000)

test.runIf(existsSync('/dev/full'))(
  'what can not be printed is said in one line, with 1',
  () => {
    const ended = spawnSync(
      'sh',
      ['-c', '"$0" "$1" --help > /dev/full', process.execPath, join(built, 'offcut.mjs')],
      {
        encoding: 'utf8',
      },
    )
    expect(ended.status).toBe(1)
    expect(ended.stderr).toBe("offcut: what is printed can't be written (ENOSPC)\n")
  },
  30_000,
)

// A run that is stopped by Ctrl-C, or killed outright: a real process, because only that can be killed.
import { type ChildProcess, spawn } from 'node:child_process'
import { existsSync, mkdtempSync, readdirSync, readFileSync, rmSync, writeFileSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { join, resolve } from 'node:path'
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

/** True once the run into `out` has begun to write frames. */
const midway = (out: string) => () => {
  const part = join(out, '.offcut-part')
  return existsSync(part) && readdirSync(part).some((name) => name.endsWith('.png') && !name.startsWith('.'))
}
const begun = (out: string) => () => existsSync(join(out, '.offcut-part'))

describe.each(['SIGINT', 'SIGTERM'] as const)('a run that gets %s', (signal) => {
  test('half-way through a patch ends with 1, says so, and leaves nothing', async () => {
    const out = join(root, `patch-${signal}`)
    const { code, stderr } = await stopped([...PATCH(), '--out', out], signal, midway(out))
    expect(code).toBe(1)
    expect(stderr).toContain('offcut: interrupted: nothing was written')
    expect(existsSync(out)).toBe(false)
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
    expect(readdirSync(out).filter((name) => !name.startsWith('.'))).toEqual([])
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
    expect(readdirSync(out).filter((name) => !name.startsWith('.'))).toEqual([])
    const again = await cli(...argv, '--out', out)
    expect(again.code, again.stderr).toBe(0)
    expect([...bytesIn(out).keys()].sort()).toEqual([...bytesIn(clean).keys()].sort())
    for (const [name, bytes] of bytesIn(clean)) expect(bytesIn(out).get(name) === bytes, name).toBe(true)
  }, 60_000)
})

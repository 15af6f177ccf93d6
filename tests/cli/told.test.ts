// A command that another program starts and listens to: a real process, because only that has a channel.
import { type ChildProcess, fork, spawn } from 'node:child_process'
import { existsSync, mkdtempSync, readdirSync, readFileSync, rmSync, statSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { join, resolve } from 'node:path'
import { afterAll, beforeAll, describe, expect, test } from 'vitest'
import type { Told } from '../../src/search/told.js'
import { type Planted, plantPlate } from '../synthetic.js'

/** Several whole commands, one after the other, each with its sheet. */
const PATIENCE = 240_000
const OFFCUT = resolve('bin/offcut.js')
const BUILT = existsSync('dist/cli/run.js')
const root = mkdtempSync(join(tmpdir(), 'offcut-told-'))
afterAll(() => rmSync(root, { recursive: true }))

interface Ended {
  readonly code: number | null
  readonly stderr: string
  readonly told: readonly Told[]
}

/** @param as each message comes  @param cache a cache folder of its own */
function started(
  argv: string[],
  as: (told: Told, child: ChildProcess) => void = () => {},
  cache = process.env.XDG_CACHE_HOME,
): Promise<Ended> {
  const child = fork(OFFCUT, argv, {
    stdio: ['ignore', 'ignore', 'pipe', 'ipc'],
    env: { ...process.env, XDG_CACHE_HOME: cache, LOCALAPPDATA: cache },
  })
  let stderr = ''
  child.stderr!.on('data', (text) => {
    stderr += text
  })
  const told: Told[] = []
  child.on('message', (message: Told) => {
    told.push(message)
    as(message, child)
  })
  // Of a channel that was closed from here no `close` comes; what was told has all come when it is closed.
  const heard = new Promise((end) => child.on('disconnect', () => end(null)))
  const said = new Promise((end) => child.stderr!.on('end', end))
  const exit = new Promise<number | null>((end) => child.on('exit', end))
  return Promise.all([exit, said, heard]).then(([code]) => ({ code, stderr, told }))
}

/** Frames that a cache has, and which file each is: its number on the disk and when it was written. */
function keptIn(cache: string): Map<string, string> {
  const names = readdirSync(cache, { recursive: true, encoding: 'utf8' })
  return new Map(
    names
      .filter((name) => name.endsWith('.half'))
      .map((name) => {
        const { ino, mtimeMs } = statSync(join(cache, name))
        return [name, `${ino} ${mtimeMs}`]
      }),
  )
}

function of<K extends Told['kind']>(told: readonly Told[], kind: K) {
  return told.filter((t): t is Extract<Told, { kind: K }> => t.kind === kind)
}

describe.skipIf(!BUILT)('a command that tells who started it (skipped before npm run build)', () => {
  let plate: Planted
  const FRAMES = 60
  const find = (out: string) => [
    'find',
    plate.folder,
    ...['--box', '60,40,40,30', '--frames', '1030-1032', '--reach', '4', '--surround', '12', '--keep', '1'],
    ...['--out', join(root, out)],
  ]
  beforeAll(async () => {
    plate = await plantPlate(join(root, 'quay'), {
      frames: FRAMES,
      occluders: (f) => (f >= 28 && f <= 32 ? [{ x: 66, y: 44, w: 16, h: 24, light: 0.02 }] : []),
    })
  })

  test(
    'has its rankings before half of the frames are read, its rows, and the folder of one that tells nobody',
    async () => {
      const { code, stderr, told } = await started(find('told'))
      expect(code, stderr).toBe(0)
      expect(of(told, 'failed')).toEqual([])
      const rankings = of(told, 'ranking')
      expect(rankings[0].total).toBe(FRAMES)
      expect(rankings[0].read).toBeLessThan(FRAMES / 2)
      expect(rankings[0].candidates.length).toBeGreaterThan(0)
      // Before the last frame is told as read, and so before the end.
      const last = told.findIndex((t) => t.kind === 'progress' && t.phase === 'reading' && t.done === FRAMES)
      expect(told.indexOf(rankings[0])).toBeLessThan(last)
      const result = JSON.parse(readFileSync(join(root, 'told', 'result.json'), 'utf8'))
      const rows = of(told, 'row')
      expect(rows.map((r) => r.target)).toEqual(result.matrix.targets)
      expect(rows.map((r) => r.quality)).toEqual(result.matrix.quality)
      for (const { donors } of rows)
        expect(donors.map(([p, frame]) => ({ plate: p, frame }))).toEqual(result.matrix.donors)

      const alone = await alike(find('alone'))
      expect(alone).toBe(0)
      const names = readdirSync(join(root, 'alone')).sort()
      expect(readdirSync(join(root, 'told')).sort()).toEqual(names)
      for (const name of names) {
        const [a, b] = ['alone', 'told'].map((folder) => readFileSync(join(root, folder, name)))
        expect(b.equals(a), name).toBe(true)
      }
    },
    PATIENCE,
  )

  test(
    'stopped by SIGTERM half-way, reads only the rest when it is started again',
    async () => {
      const cache = join(root, 'cache')
      const stopped = await started(
        find('again'),
        (told, child) => {
          if (told.kind === 'progress' && told.phase === 'reading' && told.done === FRAMES / 2)
            child.kill('SIGTERM')
        },
        cache,
      )
      expect(stopped.code).toBe(1)
      expect(existsSync(join(root, 'again'))).toBe(false)
      const before = keptIn(cache)
      expect(before.size).toBeGreaterThanOrEqual(FRAMES / 2)
      const { code, stderr } = await started(find('again'), () => {}, cache)
      expect(code, stderr).toBe(0)
      // What is decoded is written to the cache: a file that is still the same was not.
      const after = keptIn(cache)
      for (const [path, when] of before) expect(after.get(path), path).toBe(when)
      const [one, two] = ['alone', 'again'].map((folder) => readFileSync(join(root, folder, 'result.json')))
      expect(two.equals(one)).toBe(true)
    },
    PATIENCE,
  )

  test('tells how far a patch is', async () => {
    const result = JSON.parse(readFileSync(join(root, 'told', 'result.json'), 'utf8'))
    const { code, stderr, told } = await started([
      'patch',
      join(root, 'told'),
      '--pick',
      result.candidates[0].id,
      '--out',
      join(root, 'patch'),
    ])
    expect(code, stderr).toBe(0)
    expect(of(told, 'progress').some(({ done, total }) => done === total)).toBe(true)
    expect(told.map((t) => t.kind).filter((kind) => kind !== 'progress')).toEqual([])
  })

  test('says last what went wrong, in the words that it prints', async () => {
    const { code, stderr, told } = await started([
      'find',
      plate.folder,
      '--box',
      '60,40,40,30',
      '--frames',
      '99',
    ])
    expect(code).toBe(2)
    const last = told.at(-1)!
    expect(last.kind).toBe('failed')
    const [{ error }] = of(told, 'failed')
    expect(error.code).toBe('FRAMES_OUTSIDE')
    expect(stderr).toContain(`offcut: ${error.message}`)
  })

  test('ends as by Ctrl-C when the other side goes away, and leaves nothing', async () => {
    const { code, stderr } = await started(find('left'), (told, child) => {
      if (told.kind === 'ranking' && child.connected) child.disconnect()
    })
    expect(code).toBe(1)
    expect(stderr).toContain('interrupted')
    expect(existsSync(join(root, 'left'))).toBe(false)
    expect(readdirSync(root).filter((name) => name.startsWith('.left'))).toEqual([])
  })
})

/** The same command with nobody listening; its exit code. */
function alike(argv: string[]): Promise<number | null> {
  const child = spawn(process.execPath, [OFFCUT, ...argv], { stdio: 'ignore' })
  return new Promise((done) => child.on('close', done))
}

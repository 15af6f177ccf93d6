// Searches and patches that the desk runs. Truth: the command line itself, whose files must come out the same; and what a process
// table says of children when their parent is killed.
import { execFile, execFileSync } from 'node:child_process'
import { existsSync, readdirSync, readFileSync, writeFileSync } from 'node:fs'
import { join } from 'node:path'
import { fileURLToPath } from 'node:url'
import { promisify } from 'node:util'
import sharp from 'sharp'
import { afterAll, beforeAll, expect, test } from 'vitest'
import { type Message, type OpenedShot, RECT_HEADER } from '../../src/desk/messages.js'
import type { Change, Shape, ShotState } from '../../src/desk/shot-state.js'
import { shotStateSchema } from '../../src/desk/shot-state.js'
import { loadMasks } from '../../src/region/mask.js'
import { plantPlate } from '../synthetic.js'
import { type Running, runDesk, scratch, startDesk } from './served.js'

const LAUNCHER = fileURLToPath(new URL('../../bin/offcut.js', import.meta.url))
const run = promisify(execFile)
/** The command line, while the desk goes on answering. */
const offcut = (args: readonly string[]) => run(process.execPath, [LAUNCHER, ...args], { cwd: folder })
const { folder, remove } = scratch('runs')
const plate = join(folder, 'plates', 'quay')
let desk: Running

beforeAll(async () => {
  await plantPlate(plate, {
    frames: 12,
    occluders: (i) => (i < 3 ? [{ x: 60, y: 40, w: 14, h: 30, light: 0.9 }] : []),
  })
  desk = await runDesk(folder, [plate])
})
afterAll(async () => {
  await desk.close()
  remove()
})

const state = async (of = desk): Promise<ShotState> =>
  ((await (await of.ask('shots/quay')).json()) as OpenedShot).state
const change = async (body: Change, of = desk) =>
  expect((await of.ask('shots/quay', { method: 'PATCH', body })).status).toBe(200)
const post = (path: string, body?: unknown) => desk.ask(path, { method: 'POST', body: body ?? {} })
const box = (keys: Shape['keys']): Shape => ({ id: 'a', kind: 'box', cut: false, keys })

async function until(of: () => Promise<boolean> | boolean, what: string): Promise<void> {
  for (const end = Date.now() + 25_000; Date.now() < end; ) {
    if (await of()) return
    await new Promise((resolve) => setTimeout(resolve, 50))
  }
  throw new Error(`${what} did not happen`)
}
const ended = (run: () => Promise<{ state: string } | undefined>) =>
  until(async () => !['running', undefined].includes((await run())?.state), 'the end')

test('what is missing is said, and nothing is begun', async () => {
  const answer = await post('shots/quay/search')
  expect([answer.status, (await answer.json()).error.message]).toEqual([
    409,
    'draw the region, or name the file of its mask',
  ])
  expect(readdirSync(join(desk.out, 'quay')).filter((name) => !name.includes('desk.json'))).toEqual([])
})

test('a search writes what its command writes, and so does a patch', async () => {
  const keys = [
    { frame: 1001, points: [[56, 36], [78, 74]] },
    { frame: 1003, points: [[57, 36], [79, 74]] },
  ] as Shape['keys'] // biome-ignore format: two corners
  await change({ asked: { frames: '1001-1003', region: { shapes: [box(keys)], file: null } } })
  const { command } = await (await desk.ask('shots/quay')).json()
  const heard = messages()
  expect(await (await post('shots/quay/search')).json()).toEqual({ folder: 'search-1' })
  expect((await post('shots/quay/search')).status).toBe(409)
  await ended(async () => (await state()).searches[0])
  const [search] = (await state()).searches
  expect(search).toMatchObject({ folder: 'search-1', state: 'done', command })
  const told = await heard.end()
  for (const kind of ['progress', 'row'])
    expect(
      told.filter((m) => m.kind === kind && 'folder' in m && m.folder === 'search-1').length,
    ).toBeGreaterThan(0)
  const rows = told.filter((m) => m.kind === 'row')
  expect(rows.map(({ target }) => target)).toEqual([1001, 1002, 1003])
  // Keyed shapes are a file a frame.
  const masks = await loadMasks(
    join(desk.out, 'quay', 'region-1'),
    { width: 160, height: 120 },
    [1001, 1002, 1003],
  )
  expect([...masks.values()].map(({ rect }) => rect.x)).toEqual([56, 56, 57])
  const result = JSON.parse(readFileSync(join(desk.out, 'quay', 'search-1', 'result.json'), 'utf8'))
  const again = join(folder, 'again')
  const args = shell(command.replace('offcut ', ''))
  await offcut(args.map((arg) => arg.replace('desk/quay/search-1', again)))
  const byHand = JSON.parse(readFileSync(join(again, 'result.json'), 'utf8'))
  expect(byHand).toEqual(result)
  expect(rows.map(({ quality }) => quality)).toEqual(result.matrix.quality)

  const { id } = result.candidates[0]
  await change({ patch: { format: 'png', feather: 2 } })
  const shown = await (
    await desk.ask(`shots/quay/searches/search-1/patch?candidate=${encodeURIComponent(id)}`)
  ).json()
  expect(await (await post('shots/quay/searches/search-1/patch', { candidate: id })).json()).toEqual({
    folder: `search-1/patch-${id}`,
  })
  await ended(async () => (await state()).searches[0]!.patches[0])
  const [patch] = (await state()).searches[0]!.patches
  expect(patch).toMatchObject({ state: 'done', candidate: id, command: shown.command })
  const asked = ['--pick', id, '--format', 'png', '--feather', '2']
  await offcut(['patch', again, ...asked, '--out', join(folder, 'patched')])
  const frames = readdirSync(join(folder, 'patched')).filter((name) => name.endsWith('.png'))
  expect(frames).toHaveLength(3)
  for (const name of frames)
    expect(
      readFileSync(join(desk.out, 'quay', patch!.folder, name)).equals(
        readFileSync(join(folder, 'patched', name)),
      ),
    ).toBe(true)
  const file = await desk.ask(
    `shots/quay/files/${patch!.folder.split('/').map(encodeURIComponent).join('/')}/${frames[0]}`,
  )
  expect([file.status, file.headers.get('content-type')]).toEqual([200, 'image/png'])
  // A second one of the same lies beside the first.
  expect(await (await post('shots/quay/searches/search-1/patch', { candidate: id })).json()).toEqual({
    folder: `search-1/patch-${id}-2`,
  })
  await ended(async () => (await state()).searches[0]!.patches[1])
}, 90_000)

/** All that a page is told from now on. */
function messages() {
  const stop = new AbortController()
  const told: Message[] = []
  const done = (async () => {
    const answer = await fetch(`${desk.address}events`, { signal: stop.signal })
    let text = ''
    for await (const bytes of answer.body!) {
      const parts = (text + Buffer.from(bytes).toString()).split('\n\n')
      text = parts.pop()!
      for (const part of parts) if (part.startsWith('data: ')) told.push(JSON.parse(part.slice(6)))
    }
  })().catch(() => {})
  return {
    end: async () => {
      stop.abort()
      await done
      return told
    },
  }
}

/** A command as a shell takes it apart. */
function shell(text: string): string[] {
  return execFileSync('sh', ['-c', `printf '%s\\n' ${text}`])
    .toString()
    .trim()
    .split('\n')
}

test('a preview is what the patch writes', async () => {
  const result = JSON.parse(readFileSync(join(desk.out, 'quay', 'search-1', 'result.json'), 'utf8'))
  const { id } = result.candidates[0]
  const q = { ...(await state()).patch, feather: 3, featherSide: 'both', nudge: [0.5, -0.25], regrain: true }
  const settings = ['--feather', '3', '--feather-side', 'both', '--nudge', '0.5,-0.25']
  await offcut([
    'patch',
    join(folder, 'again'),
    '--pick',
    id,
    '--whole',
    ...settings,
    '--out',
    join(folder, 'whole'),
  ])
  const ask = (frame: number, more: Record<string, string> = {}, format = 'png') =>
    desk.ask(
      `shots/quay/searches/search-1/preview.${format}?${new URLSearchParams({ candidate: id, frame: String(frame), q: JSON.stringify(q), ...more })}`,
    )
  for (const frame of [1003, 1001]) {
    const answer = await ask(frame)
    expect([answer.status, answer.headers.get('content-type')]).toEqual([200, 'image/png'])
    const [x, y, w, h] = answer.headers.get(RECT_HEADER)!.split(',').map(Number) as [
      number,
      number,
      number,
      number,
    ]
    const shown = await sharp(Buffer.from(await answer.arrayBuffer()))
      .raw()
      .toBuffer({ resolveWithObject: true })
    expect([shown.info.width, shown.info.height]).toEqual([w, h])
    const written = await sharp(join(folder, 'whole', `quay_repaired.${frame}.png`)).extract({ left: x, top: y, width: w, height: h }).toColourspace('rgb16').raw({ depth: 'ushort' }).toBuffer() // biome-ignore format: one chain
    const codes = new Uint16Array(written.buffer, written.byteOffset, written.byteLength / 2)
    // The plate is sRGB of 16 bits, the preview sRGB of 8: 257 to one, and half a code for its rounding.
    const off = codes.map((code, i) => Math.abs(code - 257 * shown.data[i]!))
    expect(codes.length).toBe(shown.data.length)
    expect(Math.max(...off)).toBeLessThan(0.55 * 257)
  }
  const plain = Buffer.from(await (await ask(1002)).arrayBuffer())
  const brighter = Buffer.from(await (await ask(1002, { e: '1' })).arrayBuffer())
  expect(plain.equals(brighter)).toBe(false)
  const jpeg = await ask(1002, { w: '20' }, 'jpg')
  expect((await sharp(Buffer.from(await jpeg.arrayBuffer())).metadata()).width).toBe(20)
  expect((await ask(1004)).status).toBe(404)
  expect((await ask(1002, { candidate: 'hold-1' })).status).toBe(400)
  expect((await ask(1002, { q: JSON.stringify({ ...q, feather: 999 }) })).status).toBe(400)
  expect((await ask(1002, { q: '{' })).status).toBe(400)
  expect((await desk.ask(`shots/quay/searches/search-9/preview.jpg?candidate=${id}&frame=1002`)).status).toBe(
    404,
  )
}, 60_000)

test('decisions are kept beside their result, and those on another one are refused', async () => {
  const path = 'shots/quay/searches/search-1/decisions'
  const none = await (await desk.ask(path)).json()
  expect(none).toMatchObject({ schema: 'offcut.decisions/1', first: 1001, last: 1003, decisions: [] })
  const decision = {
    candidate: 'hold-1010',
    decision: 'accept',
    note: '',
    initials: 'AB',
    at: '2026-01-01T00:00:00Z',
  }
  const decided = { ...none, decisions: [decision] }
  expect((await desk.ask(path, { method: 'PUT', body: decided })).status).toBe(200)
  expect(await (await desk.ask(path)).json()).toEqual(decided)
  expect((await desk.ask(path, { method: 'PUT', body: { ...decided, search: '0'.repeat(16) } })).status).toBe(
    409,
  )
  expect(
    (await desk.ask(path, { method: 'PUT', body: { ...decided, decisions: [decision, decision] } })).status,
  ).toBe(400)
  expect((await desk.ask(path, { method: 'PUT', body: { ...decided, more: 1 } })).status).toBe(400)
  expect(await (await desk.ask(path)).json()).toEqual(decided)
})

test('a search that fails says why in the command’s own sentence', async () => {
  const broken = join(folder, 'broken.png')
  writeFileSync(broken, 'no picture')
  await change({ asked: { region: { shapes: [], file: broken } } })
  await post('shots/quay/search')
  await ended(async () => (await state()).searches[1])
  expect((await state()).searches[1]).toMatchObject({
    folder: 'search-2',
    state: 'failed',
    message: expect.stringMatching(
      /^.*broken\.png can not be read as a mask: give a PNG, TIFF, JPEG, EXR or SVG$/,
    ),
  })
})

test('a search that is stopped leaves nothing, and the next one has the next number', async () => {
  await change({ asked: { region: { shapes: [box([{ frame: 1001, points: [[56, 36], [78, 74]] }])], file: null } } }) // biome-ignore format: short
  expect((await desk.ask('shots/quay/search', { method: 'DELETE' })).status).toBe(409)
  await post('shots/quay/search')
  expect((await desk.ask('shots/quay/search', { method: 'DELETE' })).status).toBe(200)
  expect((await state()).searches[2]).toMatchObject({ folder: 'search-3', state: 'stopped' })
  expect(existsSync(join(desk.out, 'quay', 'search-3'))).toBe(false)
  expect(await (await post('shots/quay/search')).json()).toEqual({ folder: 'search-4' })
  await desk.ask('shots/quay/search', { method: 'DELETE' })
}, 60_000)

test('of a desk that is killed no command lives on, and the next desk knows', async () => {
  const out = join(folder, 'killed')
  const slow = join(folder, 'plates', 'slow')
  await plantPlate(slow, { frames: 120, width: 480, height: 320 })
  const killed = await startDesk(folder, [slow], out)
  const shot = join(out, 'quay')
  const region = { shapes: [box([{ frame: 1001, points: [[56, 36], [278, 174]] }])], file: null } // biome-ignore format: short
  await killed.ask('shots/quay', { method: 'PATCH', body: { asked: { frames: '1001-1040', region } } })
  await killed.ask('shots/quay/search', { method: 'POST', body: {} })
  const lock = join(shot, '.search-1.offcut-lock')
  await until(() => existsSync(lock) && readFileSync(lock, 'utf8').includes('pid'), 'the search')
  await until(() => readFileSync(join(shot, 'desk.json'), 'utf8').includes('"running"'), 'the state')
  const { pid } = JSON.parse(readFileSync(lock, 'utf8'))
  killed.process.kill('SIGKILL')
  await until(() => !isAlive(pid), 'the end of the search')
  expect(existsSync(join(shot, 'search-1'))).toBe(false)
  const next = await startDesk(folder, [], out)
  expect(await (await next.ask('shots/quay')).json()).toMatchObject({
    state: { searches: [{ folder: 'search-1', state: 'stopped' }] },
  })
  expect(await next.interrupt()).toBe(0)
  const [search] = shotStateSchema.parse(JSON.parse(readFileSync(join(shot, 'desk.json'), 'utf8'))).searches
  expect(search).toMatchObject({ folder: 'search-1', state: 'stopped' })
}, 60_000)

function isAlive(pid: number): boolean {
  try {
    process.kill(pid, 0)
    return true
  } catch {
    return false
  }
}

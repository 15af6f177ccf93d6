// Shots over HTTP and on disk. Laws: two pages see the same, what is saved is what was changed last, and what is broken is left
// as it is.
import { copyFileSync, readdirSync, readFileSync, statSync, writeFileSync } from 'node:fs'
import { join } from 'node:path'
import { afterAll, beforeAll, expect, test } from 'vitest'
import type { Begin, Message, OpenedShot } from '../../src/desk/messages.js'
import { newShot, shotStateSchema } from '../../src/desk/shot-state.js'
import { StateFile } from '../../src/desk/state-file.js'
import { plantPlate } from '../synthetic.js'
import { type Running, runDesk, scratch } from './served.js'

const { folder, remove } = scratch('shots')
const plate = join(folder, 'plates', 'quay')
let desk: Running

beforeAll(async () => {
  await plantPlate(plate, { frames: 4, gaps: [1003] })
  desk = await runDesk(folder, [plate])
})
afterAll(async () => {
  await desk.close()
  remove()
})

const opened = async (name = 'quay'): Promise<OpenedShot> => (await desk.ask(`shots/${name}`)).json()
const box = { id: 'a', kind: 'box' as const, cut: false, keys: [{ frame: 1001, points: [[10, 10], [40, 40]] }] } // biome-ignore format: short

/** Messages as a page hears them, until one is what is waited for. */
async function hear(until: (message: Message) => boolean): Promise<Message[]> {
  const answer = await desk.ask('events')
  const heard: Message[] = []
  let text = ''
  for await (const bytes of answer.body!) {
    text += Buffer.from(bytes).toString()
    for (let end = text.indexOf('\n\n'); end >= 0; end = text.indexOf('\n\n')) {
      const line = text.slice(0, end)
      text = text.slice(end + 2)
      if (!line.startsWith('data: ')) continue
      heard.push(JSON.parse(line.slice(6)))
      if (until(heard.at(-1)!)) return heard
    }
  }
  throw new Error('the stream ended')
}

test('a plate that is named at the start is a shot, of which a page learns everything', async () => {
  expect(await (await desk.ask('shots')).json()).toMatchObject([{ name: 'quay', searches: 0, aim: 'hide' }])
  const { state, plates, command, missing } = await opened()
  expect(shotStateSchema.parse(state)).toEqual(state)
  expect(plates).toMatchObject([
    {
      frames: [1001, 1002, 1004],
      gaps: [{ first: 1003, last: 1003 }],
      width: 160,
      height: 120,
      encoding: 'srgb',
    },
  ])
  expect([command, missing]).toEqual([null, 'draw the region, or name the file of its mask'])
})

test('what one page changes the other one hears, with the command that does the same', async () => {
  const ready = Promise.all([
    hear((m) => m.kind === 'shot' && m.opened.command !== null),
    hear((m) => m.kind === 'shot' && m.opened.command !== null),
  ])
  await new Promise((resolve) => setTimeout(resolve, 100))
  const before = (await opened()).state.revision
  const area = { shapes: [box], file: null }
  const first = await desk.ask('shots/quay', { method: 'PATCH', body: { asked: { region: area } } })
  expect(await first.json()).toEqual({ revision: before + 1 })
  expect((await opened()).missing).toBe('choose the target frames')
  await desk.ask('shots/quay', { method: 'PATCH', body: { asked: { frames: '1003' } } })
  expect((await opened()).missing).toBe('the plate has no frame 1003')
  await desk.ask('shots/quay', {
    method: 'PATCH',
    body: { asked: { frames: '1002' }, view: { exposureStops: 1 } },
  })
  // Strips are measured meanwhile: the page that listens first may be told of one more.
  const [one, two] = (await ready).map((told) => told.filter(({ kind }) => kind !== 'strip'))
  expect(one).toEqual(two)
  expect(one[0]).toMatchObject({ kind: 'shots', shots: [{ name: 'quay' }] })
  const last = one.at(-1)
  expect(last).toMatchObject({
    kind: 'shot',
    shot: 'quay',
    opened: {
      command: 'offcut find plates/quay --mask desk/quay/region-1.svg --frames 1002 --out desk/quay/search-1',
      state: { revision: before + 3, view: { exposureStops: 1 }, asked: { frames: '1002', region: area } },
    },
  })
})

test('what is no change is refused by name, and changes nothing', async () => {
  const before = await opened()
  for (const [body, message] of [
    [
      { asked: { aim: 'paint' } },
      'the change has a fault: asked.aim must be one of hide, borrow, and is "paint"',
    ],
    [{ name: 'x' }, 'the change has a fault: the file has unknown entries: name'],
    [{ view: { frame: 1.5 } }, /view.frame must be/],
    [{ asked: { donors: ['/nowhere/at/all'] } }, /nowhere.* does not exist/],
    [{ asked: { encoding: 'log' } }, /encoding takes/],
    [{ view: { look: '/nowhere.cube' } }, /nowhere.cube is not there/],
    [
      {
        asked: {
          region: {
            file: null,
            shapes: [{ ...box, keys: [...box.keys, { frame: 1001, points: box.keys[0].points }] }],
          },
        },
      },
      /keys/,
    ],
    [
      {
        asked: {
          region: {
            file: null,
            shapes: [{ ...box, keys: [...box.keys, { frame: 1002, points: [[1, 1]] }] }],
          },
        },
      },
      /points/,
    ],
  ] as const) {
    // biome-ignore format: a table
    const answer = await desk.ask('shots/quay', { method: 'PATCH', body })
    expect([400, 404]).toContain(answer.status)
    const said = (await answer.json()).error.message
    if (typeof message === 'string') expect(said).toBe(message)
    else expect(said).toMatch(message)
  }
  expect(await opened()).toEqual(before)
})

test('a plate is opened twice as two shots, and never in its own folder', async () => {
  const answer = await desk.ask('shots', { method: 'POST', body: { plate } })
  expect(await answer.json()).toEqual({ name: 'quay-2' })
  expect((await opened('quay-2')).state.searches).toEqual([])
  await expect(runDesk(plate, [plate])).rejects.toMatchObject({ code: 'OUTPUT_IN_FOOTAGE' })
})

test('a folder with another plate in it is not what the command names', async () => {
  const two = join(folder, 'plates', 'two')
  const { frames } = await plantPlate(two, { frames: 3 })
  for (const frame of frames) copyFileSync(join(two, `quay.${frame}.png`), join(two, `wharf.${frame}.png`))
  const answer = await desk.ask('shots', { method: 'POST', body: { plate: join(two, 'quay.1002.png') } })
  const { name } = (await answer.json()) as { name: string }
  const asked = { region: { shapes: [box], file: null }, frames: '1002' }
  await desk.ask(`shots/${name}`, { method: 'PATCH', body: { asked } })
  expect((await opened(name)).command).toMatch(/^offcut find 'plates\/two\/quay\.####\.png' --mask /)
})

test('the last state is on disk at the end, and is what the next desk begins with', async () => {
  const second = join(folder, 'again')
  const one = await runDesk(second, [plate])
  for (let frame = 1001; frame <= 1004; frame++)
    await one.ask('shots/quay', { method: 'PATCH', body: { view: { frame } } })
  await one.close()
  const text = readFileSync(join(second, 'desk', 'quay', 'desk.json'), 'utf8')
  expect(shotStateSchema.parse(JSON.parse(text))).toMatchObject({ revision: 4, view: { frame: 1004 } })
  expect(readdirSync(join(second, 'desk', 'quay'))).toEqual(['desk.json'])
  const two = await runDesk(second, [])
  expect((await (await two.ask('shots/quay')).json()).state.view.frame).toBe(1004)
  await two.close()
})

test('a state is written once a second at most, and always the last one', async () => {
  const path = join(folder, 'desk.json')
  const state = newShot('quay', plate, 1001)
  const file = new StateFile(path, (cause) => {
    throw cause
  })
  const inodes = new Set<number>()
  const until = performance.now() + 2300
  for (let revision = 1; performance.now() < until; revision++) {
    file.save({ ...state, revision })
    await new Promise((resolve) => setTimeout(resolve, 20))
    // Each whole writing is a new file.
    inodes.add(statSync(path, { throwIfNoEntry: false })?.ino ?? 0)
  }
  inodes.delete(0)
  file.save({ ...state, revision: 9999 })
  await file.flush()
  expect(JSON.parse(readFileSync(path, 'utf8')).revision).toBe(9999)
  expect(inodes.size).toBeGreaterThanOrEqual(2)
  expect(inodes.size).toBeLessThanOrEqual(3)
})

test('a broken desk.json is said, and left as it is', async () => {
  const third = join(folder, 'third')
  const one = await runDesk(third, [plate])
  await one.close()
  const path = join(third, 'desk', 'quay', 'desk.json')
  const text = `{"schema":"offcut.desk/1","name":3}`
  writeFileSync(path, text)
  const two = await runDesk(third, [plate])
  const [, broken] = await (await two.ask('shots')).json()
  expect(broken).toMatchObject({
    name: 'quay',
    fault: expect.stringContaining('name must be text, and is 3'),
  })
  expect((await two.ask('shots/quay', { method: 'PATCH', body: { view: { frame: 1002 } } })).status).toBe(409)
  expect((await (await two.ask('shots/quay-2')).json()).state.name).toBe('quay-2')
  await two.close()
  expect(readFileSync(path, 'utf8')).toBe(text)
})

test('the page is served with the shot that the desk was started for, whatever its plate is called', async () => {
  const home = join(folder, 'begin')
  const named = join(folder, 'plates', '<script>alert(1)<')
  await plantPlate(named, { frames: 2 })
  const begin = async (from: Running): Promise<Begin> => {
    const page = await (await from.ask('')).text()
    const [, json = ''] = /<script type="application\/json" id="begin">(.*?)<\/script>/.exec(page) ?? []
    expect(page.match(/<script/g)).toHaveLength(2)
    return JSON.parse(json)
  }
  const first = await runDesk(home, [named])
  const { name, opened } = (await begin(first)).open!
  expect(opened.plates[0]!.spec).toContain('<script>alert(1)<')
  expect(opened).toEqual(await (await first.ask(`shots/${encodeURIComponent(name)}`)).json())
  await first.close()
  // Another plate, in the same folder: that one; of both, or of none, the list.
  for (const [plates, frames] of [
    [[plate], 3],
    [[plate, named], undefined],
    [[], undefined],
  ] as const) {
    const next = await runDesk(home, plates)
    const { shots, open } = await begin(next)
    expect([shots.length, open?.opened.plates[0]?.frames.length]).toEqual([2, frames])
    await next.close()
  }
})

// What lies beside the frames of a patch: every number that went into them, and the retime as an edit can open it.
import { mkdirSync, mkdtempSync, readdirSync, readFileSync, rmSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { fileURLToPath } from 'node:url'
import { EXRLoader } from 'three/examples/jsm/loaders/EXRLoader.js'
import { afterAll, beforeAll, describe, expect, test } from 'vitest'
import { openPlate } from '../../../src/footage/plate.js'
import { writeExr } from '../../../src/footage/write/exr.js'
import { frame } from '../../../src/raster/frame.js'
import { describePatch } from '../../../src/repair/hand-over/describe.js'
import { otioText } from '../../../src/repair/hand-over/otio.js'
import { patchSchema } from '../../../src/repair/hand-over/patch.js'
import { openRepair } from '../../../src/repair/repair.js'
import { framesToWrite } from '../../../src/repair/write.js'
import type { Candidate, FrameMatch, Result } from '../../../src/search/result.js'
import { writePatchFolder } from '../../../src/sheet/patch-folder.js'
import { version } from '../../../src/version.js'
import { type Planted, plantPlate } from '../../synthetic.js'
import { type Lending, resultFor } from '../job.js'

const folder = mkdtempSync(join(tmpdir(), 'offcut-hand-over-'))
afterAll(() => rmSync(folder, { recursive: true }))

let plate: Planted
beforeAll(async () => {
  plate = await plantPlate(join(folder, 'plate'), { frames: 12 })
})
let n = 0

async function written(
  lendings: readonly Lending[],
  change: (r: Result, c: Candidate) => Candidate = (_, c) => c,
  options = {},
) {
  const { result, candidate } = resultFor(plate.folder, lendings, { frames: 12, empty: [1004] })
  const changed = change(result, candidate)
  result.candidates = [changed]
  const out = join(folder, `out${n++}`)
  mkdirSync(out)
  const job = await openRepair(result)
  const patch = await writePatchFolder(out, job, changed, { featherPx: 3, ...options })
  return { out, patch, job, candidate: changed }
}
const read = (out: string, name: string) => readFileSync(join(out, name), 'utf8')

const LENT: Lending[] = [
  { target: 1002, donor: 1008, dx: 0.25, dy: -0.5, gain: [1.1, 1, 0.9] },
  { target: 1003, donor: 1008, dx: 0.5, dy: -0.25, gain: [1.2, 1.1, 1] },
]

describe('check.html', () => {
  test('shows a plate whose pixels are twice as wide as high as it is projected', async () => {
    const dir = join(folder, 'squeezed')
    mkdirSync(dir)
    const displayWindow = { x: 0, y: 0, w: 160, h: 120 }
    for (let f = 1001; f <= 1008; f++)
      await writeExr(join(dir, `q.${f}.exr`), frame(120, 160, 3), { displayWindow, pixelAspect: 2 })
    const { result, candidate } = resultFor(dir, LENT, { frames: 8, encoding: 'linear' })
    const out = join(folder, `out${n++}`)
    mkdirSync(out)
    const job = await openRepair(result)
    const { region } = await writePatchFolder(out, job, candidate)
    const html = read(out, 'check.html')
    const sizes = [...html.matchAll(/<svg class="picture[^"]*" viewBox="0 0 (\S+) (\S+)"/g)].map(
      ([, w, h]) => `${w} ${h}`,
    )
    const [, , w, h] = region.window
    expect(sizes).toEqual(['320 120', ...Array(8).fill(`${2 * w} ${h}`)])
  })
})

describe('patch.json', () => {
  test('has per frame what was lent, how it was moved and lit, and is what its schema says', async () => {
    const { out, patch } = await written(LENT)
    const stored = patchSchema.parse(JSON.parse(read(out, 'patch.json')))
    expect(stored).toEqual(patch)
    expect(stored).toMatchObject({
      schema: 'offcut.patch/1',
      version: version(),
      what: 'patch',
      format: 'exr',
      alpha: 'premultiplied',
      encoding: 'linear',
      membrane: false,
      regrain: true,
      region: { box: [60, 40, 24, 30], feather: 3 },
      black: [1004],
      skipped: [],
    })
    expect(stored.frames.map((f) => f.file)).toEqual(
      readdirSync(out)
        .filter((name) => name.endsWith('.exr'))
        .sort(),
    )
    expect(stored.frames.map((f) => f.target)).toEqual([1002, 1003, 1004])
    expect(stored.frames[0].lent).toEqual([
      {
        ...{ plate: 0, frame: 1008, timeOffset: 6, dx: 0.25, dy: -0.5, share: 1, gain: [1.1, 1, 0.9] },
        transform: [1, 0, 0.25, 0, 1, -0.5, 0, 0, 1],
      },
    ])
    expect(stored.frames[2].lent).toEqual([])
  })

  test('says what crosses the mask’s edge and is left standing, on the frames that it fills', async () => {
    const box = [60, 72, 10, 12] as [number, number, number, number]
    const frames = [1002, 1003, 1005].map((frame) => ({ frame, px: 12, box }))
    const { out, patch } = await written(LENT, (result, c) => {
      result.cuts = [
        { side: 'lower', open: true, frames },
        { side: 'left', open: false, frames: frames.slice(2) },
      ]
      return c
    })
    const [first, ...others] = patch.warnings
    expect(first).toBe(
      'on 1002-1003 something crosses the lower edge of the mask and moves with what is inside, and what lies outside is left standing: if it is to go, grow the mask by more than 12 px; if it is to stay, keep it out of the mask',
    )
    expect(others.join()).not.toContain('crosses')
    expect(read(out, 'check.html')).toContain('something crosses the lower edge of the mask')
  })

  test('names the target frames that the candidate leaves out', async () => {
    const { patch } = await written(LENT, (result, c) => {
      result.target.frames = [1002, 1003, 1005]
      return c
    })
    expect(patch.skipped).toEqual([1005])
  })

  test('of whole frames and of 16-bit stills says so', async () => {
    const { patch: whole } = await written(LENT, undefined, { whole: true })
    expect(whole).toMatchObject({ what: 'repaired', format: 'png', alpha: null, encoding: 'srgb' })
    const { patch: stills } = await written(LENT, undefined, {
      format: 'tif',
      membrane: true,
      addGrain: false,
      by: { dx: 1, dy: -2 },
    })
    expect(stills).toMatchObject({
      format: 'tif',
      alpha: 'straight',
      encoding: 'srgb',
      membrane: true,
      regrain: false,
      nudge: [1, -2],
    })
  })
})

/** The two frames lent by two donors each, three quarters by 1008. */
function stacked(_: Result, candidate: Candidate): Candidate {
  const stack = (m: FrameMatch): FrameMatch['stack'] =>
    [
      [1010, 0.25],
      [1008, 0.75],
    ].map(([f, weight]) => ({
      ...{ plate: 0, frame: f, dx: m.dx, dy: m.dy, gain: m.gain, weight },
    }))
  return {
    ...candidate,
    id: 'stack-1',
    kind: 'stack',
    frames: candidate.frames.map((m) => ({ ...m, stack: stack(m) })),
  }
}

/** @param next share of the second of two donors, per frame */
function dissolving(candidate: Candidate, next: readonly number[]): Candidate {
  const frames = candidate.frames.map((m, t): FrameMatch => {
    const of = (frame: number, weight: number) => ({
      ...{ plate: 0, frame, dx: m.dx, dy: m.dy, gain: m.gain, weight },
    })
    const both = [of(1010, next[t]), of(1008, 1 - next[t])]
    if (next[t] === 0) return m
    return { ...m, stack: m.donor === 1010 ? both : both.reverse() }
  })
  return { ...candidate, frames }
}

describe('patch.csv', () => {
  test('has a row per frame and share, the largest first, and one for a black mask', async () => {
    const { out } = await written(LENT, stacked)
    const [head, ...rows] = read(out, 'patch.csv')
      .trim()
      .split('\r\n')
      .map((line) => line.split(','))
    const column = (name: string) => rows.map((row) => row[head.indexOf(name)])
    expect(column('target_frame')).toEqual(['1002', '1002', '1003', '1003', '1004'])
    expect(column('donor_frame')).toEqual(['1008', '1010', '1008', '1010', ''])
    expect(column('time_offset')).toEqual(['6', '8', '5', '7', ''])
    expect(column('share')).toEqual(['0.75', '0.25', '0.75', '0.25', ''])
    expect(column('dy_px')).toEqual(['-0.5', '-0.5', '-0.25', '-0.25', ''])
    expect(column('gain_r')).toEqual(['1.1', '1.1', '1.2', '1.2', ''])
    expect(column('feather_px')).toEqual(['3', '3', '3', '3', '3'])
  })
})

describe('the header of a patch, read by three’s EXRLoader', () => {
  test('says where its pixels come from, in plain strings', async () => {
    const { out } = await written(LENT, stacked)
    const header = headerOf(join(out, 'quay_patch.1002.exr'))
    expect(header).toMatchObject({
      'offcut:plate': 'quay.####.png',
      'offcut:candidate': 'stack-1',
      'offcut:version': version(),
      'offcut:donorPlate': 'quay.####.png',
      'offcut:donor': '1008, 1010',
      'offcut:timeOffset': '+6, +8',
    })
    for (const name of Object.keys(header)) expect(Buffer.byteLength(name)).toBeLessThanOrEqual(31)
  })

  test('of a black mask names no donor', async () => {
    const { out } = await written(LENT)
    const header = headerOf(join(out, 'quay_patch.1004.exr'))
    expect(header).toMatchObject({ 'offcut:candidate': 'relay-1' })
    expect(header).not.toHaveProperty('offcut:donor')
  })

  test('takes no name that needs the flag for long ones', async () => {
    const picture = frame(2, 2, 3)
    const displayWindow = { x: 0, y: 0, w: 2, h: 2 }
    const at = (length: number) =>
      writeExr(join(folder, `${length}.exr`), picture, {
        displayWindow,
        strings: { ['n'.repeat(length)]: 'x' },
      })
    await expect(at(32)).rejects.toThrow('a name of at most 31 bytes')
    await at(31)
    expect(headerOf(join(folder, '31.exr'))).toHaveProperty('n'.repeat(31), 'x')
  })
})

function headerOf(path: string): Record<string, unknown> {
  const parsed = new EXRLoader().parse(new Uint8Array(readFileSync(path)).buffer)
  return (parsed as unknown as { header: Record<string, unknown> }).header
}

// The fields of each class, from OpenTimelineIO's own docs/tutorials/otio-serialized-schema-only-fields.md (0.17), which
// its test suite generates from the classes; a composition's children are no field of that list but of its file format.
const SCHEMA: Readonly<Record<string, readonly string[]>> = {
  'Timeline.1': ['global_start_time', 'metadata', 'name', 'tracks'],
  'Stack.1': ['effects', 'enabled', 'markers', 'metadata', 'name', 'source_range', 'children'],
  'Track.1': ['effects', 'enabled', 'kind', 'markers', 'metadata', 'name', 'source_range', 'children'],
  'Clip.2': [
    ...[
      'active_media_reference_key',
      'effects',
      'enabled',
      'markers',
      'media_references',
      'metadata',
      'name',
    ],
    'source_range',
  ],
  'Gap.1': ['effects', 'enabled', 'markers', 'metadata', 'name', 'source_range'],
  'FreezeFrame.1': ['effect_name', 'metadata', 'name', 'time_scalar'],
  'LinearTimeWarp.1': ['effect_name', 'metadata', 'name', 'time_scalar'],
  'ImageSequenceReference.1': [
    ...['available_image_bounds', 'available_range', 'frame_step', 'frame_zero_padding', 'metadata'],
    ...[
      'missing_frame_policy',
      'name',
      'name_prefix',
      'name_suffix',
      'rate',
      'start_frame',
      'target_url_base',
    ],
  ],
  'ExternalReference.1': ['available_image_bounds', 'available_range', 'metadata', 'name', 'target_url'],
  'Transition.1': ['in_offset', 'metadata', 'name', 'out_offset', 'transition_type'],
  'RationalTime.1': ['rate', 'value'],
  'TimeRange.1': ['duration', 'start_time'],
}

type Node = { OTIO_SCHEMA: string; [key: string]: unknown }

/** Every object of the file that names a class. */
function nodesOf(value: unknown): Node[] {
  if (typeof value !== 'object' || value === null) return []
  const inner = Object.values(value).flatMap(nodesOf)
  return 'OTIO_SCHEMA' in value ? [value as Node, ...inner] : inner
}

interface Item {
  OTIO_SCHEMA: string
  source_range: { start_time: { value: number; rate: number }; duration: { value: number; rate: number } }
  effects: { OTIO_SCHEMA: string; time_scalar: number }[]
  metadata: { offcut?: { shared?: unknown } }
  media_references: { DEFAULT_MEDIA: Record<string, unknown> }
}

async function timeline(
  lendings: readonly Lending[],
  change?: (r: Result, c: Candidate) => Candidate,
  of = plate.folder,
) {
  const { result, candidate } = resultFor(of, lendings, { frames: 12, encoding: 'auto' })
  const job = await openRepair(result)
  const changed = change?.(result, candidate) ?? candidate
  const names = framesToWrite(job, changed).map(({ target }) => `${target}`)
  const patch = describePatch(job, changed, names, {
    what: 'patch',
    format: 'exr',
    featherSide: 'outside',
    featherPx: 4,
  })
  const file = JSON.parse(otioText([{ patch, donors: job.donors }], job.target))
  const [target, donors]: Item[][] = file.tracks.children.map((t: { children: Item[] }) => t.children)
  const items = donors.filter(({ OTIO_SCHEMA }) => OTIO_SCHEMA !== 'Transition.1')
  const clips = items.map(({ OTIO_SCHEMA, source_range: { start_time, duration }, effects }) => [
    OTIO_SCHEMA,
    start_time.value,
    duration.value,
    effects.map((e) => [e.OTIO_SCHEMA, e.time_scalar]),
  ])
  return { file, target: target[0], donors, clips }
}
const over = (donorOf: (target: number) => number) =>
  [1001, 1002, 1003, 1004].map((target): Lending => ({ target, donor: donorOf(target) }))

describe('patch.otio', () => {
  test.each([
    { kind: 'hold', of: over(() => 1008) },
    { kind: 'run', of: over((f) => f + 5) },
    { kind: 'mirror', of: over((f) => 2011 - f) },
    { kind: 'a relay with a gap', of: [...over(() => 1008), { target: 1006, donor: 1009 }] },
  ])(
    'of a $kind has the classes of the published schema, and of each all fields and no other',
    async ({ of }) => {
      const nodes = nodesOf((await timeline(of)).file)
      expect(nodes.length).toBeGreaterThan(10)
      for (const { OTIO_SCHEMA, ...fields } of nodes)
        expect([OTIO_SCHEMA, Object.keys(fields).sort()]).toEqual([
          OTIO_SCHEMA,
          [...SCHEMA[OTIO_SCHEMA]].sort(),
        ])
    },
  )

  test('a hold is the donor’s frame frozen for the range', async () => {
    expect((await timeline(over(() => 1008))).clips).toEqual([['Clip.2', 1008, 4, [['FreezeFrame.1', 0]]]])
  })

  test('a run is the range of the donor, and plays on', async () => {
    expect((await timeline(over((f) => f + 5))).clips).toEqual([['Clip.2', 1006, 4, []]])
  })

  test('a mirror is the range of the donor in its own order, and plays backwards', async () => {
    expect((await timeline(over((f) => 2011 - f))).clips).toEqual([
      ['Clip.2', 1007, 4, [['LinearTimeWarp.1', -1]]],
    ])
  })

  test('a relay is a clip per stretch, and a frame that nothing lends to a gap', async () => {
    const { clips } = await timeline([
      ...over(() => 1008),
      { target: 1006, donor: 1009 },
      { target: 1007, donor: 1010 },
    ])
    expect(clips).toEqual([
      ['Clip.2', 1008, 4, [['FreezeFrame.1', 0]]],
      ['Gap.1', 0, 1, []],
      ['Clip.2', 1009, 2, []],
    ])
  })

  test('a relay that dissolves has a transition at the change, as long before and after it as both lend', async () => {
    const { donors, file } = await timeline(
      [1001, 1002, 1003, 1004].map((target) => ({ target, donor: target < 1003 ? 1008 : 1010 })),
      (_, candidate) => dissolving(candidate, [0, 0.25, 0.5, 0.75]),
    )
    const [from, transition, to] = donors as unknown as Node[]
    expect([from.OTIO_SCHEMA, transition.OTIO_SCHEMA, to.OTIO_SCHEMA]).toEqual([
      'Clip.2',
      'Transition.1',
      'Clip.2',
    ])
    expect(donors).toHaveLength(3)
    expect(transition).toMatchObject({
      transition_type: 'SMPTE_Dissolve',
      in_offset: { value: 1 },
      out_offset: { value: 2 },
    })
    for (const { OTIO_SCHEMA, ...fields } of nodesOf(file))
      expect(Object.keys(fields).sort()).toEqual([...SCHEMA[OTIO_SCHEMA]].sort())
  })

  test('a stack is its largest share, the rest stands in the metadata', async () => {
    const { clips, donors } = await timeline(LENT, stacked)
    expect(clips).toEqual([['Clip.2', 1008, 2, [['FreezeFrame.1', 0]]]])
    const lent = [
      { plate: 0, frame: 1008, share: 0.75 },
      { plate: 0, frame: 1010, share: 0.25 },
    ]
    expect(donors[0].metadata.offcut?.shared).toEqual([
      { target: 1002, lent },
      { target: 1003, lent },
    ])
  })

  test('names the files of a sequence as they are on disk, at the rate that is assumed where none is known', async () => {
    const { target, file } = await timeline(over(() => 1008))
    const media = target.media_references.DEFAULT_MEDIA
    const { target_url_base, name_prefix, name_suffix, frame_zero_padding, start_frame } = media
    const name = `${name_prefix}${String(start_frame).padStart(Number(frame_zero_padding), '0')}${name_suffix}`
    expect(join(fileURLToPath(String(target_url_base)), name)).toBe(plate.pathOf(1001))
    expect(media.available_range).toMatchObject({ start_time: { value: 1001 }, duration: { value: 12 } })
    expect(file.metadata.offcut.rateFrom).toMatch('assumed')
    for (const { OTIO_SCHEMA, rate } of nodesOf(file))
      if (OTIO_SCHEMA === 'RationalTime.1') expect(rate).toBe(24)
  })

  test('has the rate of the plate’s header where it names one', async () => {
    const dir = join(folder, 'counted')
    mkdirSync(dir)
    const displayWindow = { x: 0, y: 0, w: 160, h: 120 }
    for (let f = 1001; f <= 1012; f++)
      await writeExr(join(dir, `v2_${f}_q.exr`), frame(120, 160, 3), { displayWindow, framesPerSecond: 25 })
    const { file, target } = await timeline(
      over(() => 1008),
      undefined,
      dir,
    )
    expect(file.metadata.offcut.rateFrom).toBe("the plate's header")
    expect(file.global_start_time).toMatchObject({ rate: 25, value: 1001 })
    expect(target.media_references.DEFAULT_MEDIA).toMatchObject({
      ...{ name_prefix: 'v2_', name_suffix: '_q.exr', frame_zero_padding: 4, start_frame: 1001, rate: 25 },
    })
    expect((await openPlate(dir)).name).toBe('v2_####_q.exr')
  })
})

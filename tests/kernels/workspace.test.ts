import { describe, expect, test } from 'vitest'
import { gradientSquares, softSign } from '../../src/kernels/detail.js'
import { addScaled } from '../../src/kernels/patch.js'
import { smooth } from '../../src/kernels/pyramid.js'
import { Workspace } from '../../src/kernels/workspace.js'
import { align } from '../../src/match/align.js'
import { prepareReference } from '../../src/match/reference.js'
import { type Plane, plane } from '../../src/raster/plane.js'
import { normal, texturedWall, wallPlane } from '../synthetic.js'

const poisoned = new Workspace({ poison: true })
const plain = new Workspace({ poison: false })

function grainy(width: number, height: number): Plane {
  const out = plane(0, 0, width, height)
  const grain = normal(3)
  for (let i = 0; i < out.data.length; i++) out.data[i] = grain()
  return out
}

const allNaN = (samples: Iterable<number>) => [...samples].every((v) => Number.isNaN(v))

describe('a view that is kept too long', () => {
  const picture = grainy(23, 11)
  const keep = (workspace: Workspace) =>
    workspace.within((scratch) => smooth(workspace, picture, scratch.floats(picture.data.length)))

  test('shows no sample of what it was, where scratch is poisoned', () => {
    const kept = keep(poisoned)
    expect(kept.data).toHaveLength(picture.data.length)
    expect(allNaN(kept.data)).toBe(true)
  })

  test('is not seen without: the samples are still there, until the next call', () => {
    const wanted = smooth(poisoned, picture).data
    expect([...keep(plain).data]).toEqual([...wanted])
  })

  test('shows in a number that is made from it', () => {
    const kept = keep(poisoned)
    const [square] = gradientSquares(poisoned, kept.data, 23, new Float32Array(23 * 11).fill(1))
    expect(square).toBeNaN()
  })

  test('is poisoned whatever its samples are, and when its call throws, too', () => {
    const kept: { f?: Float32Array; d?: Float64Array; i?: Int32Array; b?: Uint8Array } = {}
    expect(() =>
      poisoned.within((scratch) => {
        kept.f = scratch.floats(5).fill(1)
        kept.d = scratch.doubles(5).fill(1)
        kept.i = scratch.integers(5).fill(1)
        kept.b = scratch.bytes(5).fill(1)
        throw new RangeError('on the way')
      }),
    ).toThrow('on the way')
    expect(allNaN(kept.f!) && allNaN(kept.d!)).toBe(true)
    expect([...kept.i!, ...kept.b!]).toEqual([-1, -1, -1, -1, -1, 255, 255, 255, 255, 255])
  })

  test('is what the tests run with, unless a workspace says otherwise', () => {
    const kept = new Workspace().within((scratch) => scratch.floats(3).fill(1))
    expect(allNaN(kept)).toBe(true)
  })
})

describe('scratch', () => {
  test('that was never written is poison, be it new or used before', () => {
    const workspace = new Workspace({ poison: true })
    for (const length of [7, 7, 400_000, 1_000_000])
      workspace.within((scratch) => expect(allNaN(scratch.floats(length).subarray(0, 7))).toBe(true))
  })

  test('of a call is left alone by the calls within it, however much those take', () => {
    poisoned.within((outer) => {
      const mine = outer.floats(1000).fill(0.5)
      for (const length of [10, 300_000, 2_000_000, 40])
        poisoned.within((inner) => {
          inner.floats(length).fill(9)
          poisoned.within((innermost) => innermost.bytes(length).fill(1))
        })
      const more = outer.floats(1000).fill(0.25)
      expect([new Set(mine), new Set(more)]).toEqual([new Set([0.5]), new Set([0.25])])
    })
  })

  test('of any lengths lies apart', () => {
    poisoned.within((scratch) => {
      const parts = [1, 3, 4, 5, 0, 262_144, 17, 600_000].map((length, i) =>
        scratch.bytes(length).fill(i + 1),
      )
      for (const [i, part] of parts.entries()) expect(part.every((v) => v === i + 1)).toBe(true)
    })
  })

  test('past 4 GiB is refused, and the workspace goes on', () => {
    const workspace = new Workspace()
    expect(() => workspace.within((scratch) => scratch.floats(2 ** 30))).toThrow(RangeError)
    expect(workspace.within((scratch) => scratch.floats(2).fill(4)[1] + 1)).toBe(5)
  })
})

describe('a workspace that is closed', () => {
  test('does nothing more, even where a view of it was kept, and closing it again is no error', () => {
    const workspace = new Workspace()
    const held = workspace.hold()
    const kept = held.floats(8).fill(1)
    workspace.close()
    workspace.close()
    expect(allNaN(kept)).toBe(true)
    for (const ask of [
      () => workspace.within(() => 1),
      () => softSign(workspace, kept, 1),
      () => held.floats(5_000_000),
    ])
      expect(ask).toThrow('the workspace is closed')
  })

  test('leaves its memory to the next, and to one only', () => {
    const first = new Workspace({ poison: false })
    const kept = first.hold().floats(8).fill(0.5)
    first.close()
    first.close()
    const [second, third] = [new Workspace({ poison: false }), new Workspace({ poison: false })]
    second.hold().floats(8).fill(2)
    third.hold().floats(8).fill(3)
    expect(new Set(kept)).toEqual(new Set([2]))
  })
})

describe('what is held', () => {
  test('outlives calls and growth, and is poison once it is released', () => {
    const workspace = new Workspace({ poison: true })
    const held = workspace.hold()
    const samples = held.floats(5000).fill(0.75)
    workspace.within((scratch) => scratch.floats(5_000_000).fill(1))
    expect(new Set(samples)).toEqual(new Set([0.75]))
    // Made before the memory grew, it is still known to lie in it: changed in place.
    softSign(workspace, samples, 0.25)
    expect(new Set(samples)).toEqual(new Set([0.75]))
    held.release()
    expect(allNaN(samples)).toBe(true)
  })

  test('by two lies apart, and what one released is taken again', () => {
    const workspace = new Workspace()
    const [a, b] = [workspace.hold(), workspace.hold()]
    const [one, two] = [a.floats(3000).fill(1), b.floats(3000).fill(2)]
    expect([new Set(one), new Set(two)]).toEqual([new Set([1]), new Set([2])])
    const before = workspace.byteLength
    a.release()
    const again = workspace.hold().floats(2900).fill(3)
    expect(workspace.byteLength).toBe(before)
    expect([new Set(again), new Set(two)]).toEqual([new Set([3]), new Set([2])])
  })
})

describe('memory', () => {
  const MIB = 2 ** 20
  const most = 24 * MIB

  test('that was held serves scratch once it is released, and scratch what is held afterwards', () => {
    const workspace = new Workspace({ poison: false })
    const held = workspace.hold()
    for (const share of [2, 4, 4]) held.bytes(most / share)
    held.release()
    const before = workspace.byteLength
    workspace.within((scratch) => scratch.bytes(most))
    workspace.within((scratch) => [scratch.bytes(most / 2), scratch.bytes(most / 2)])
    workspace.hold().bytes(most)
    expect(workspace.byteLength).toBe(before)
  })

  test('that many small buffers lay in serves a large one, so that only what is lacking is new', () => {
    const workspace = new Workspace({ poison: false })
    workspace.within((scratch) => {
      for (let i = 0; i < 24; i++) scratch.bytes(MIB)
    })
    workspace.within((scratch) => scratch.bytes(most + MIB))
    expect(workspace.byteLength).toBeLessThan(most + 2.5 * MIB)
  })

  test('of large workspaces that were closed does not stay', async () => {
    const large = 128 * MIB
    // Touching pages is what takes long: of each workspace one in four is in use.
    const pages = 4 * 4096
    const before = process.memoryUsage.rss()
    let peak = 0
    for (let i = 0; i < 16; i++) {
      const workspace = new Workspace({ poison: false })
      workspace.within((scratch) => {
        const bytes = scratch.bytes(large)
        for (let at = 0; at < large; at += pages) bytes[at] = 1
      })
      workspace.close()
      await new Promise((resolve) => setTimeout(resolve, 5))
      peak = Math.max(peak, process.memoryUsage.rss() - before)
    }
    // All of them would be 16.
    expect(peak).toBeLessThan((9 * large) / 4)
  })
})

test('after the first frame no further one takes memory', () => {
  const workspace = new Workspace({ poison: false })
  const wall = texturedWall()
  const rect = { x: 20, y: 20, w: 90, h: 70 }
  const weight = new Float32Array(rect.w * rect.h).fill(1)
  const reference = prepareReference(workspace, wallPlane(wall, rect), weight, 8)
  const donorAt = (dx: number) => wallPlane(wall, { x: 8, y: 8, w: 114, h: 94 }, { dx, dy: 1 })
  align(workspace, reference, donorAt(0), 8)
  const before = workspace.byteLength
  for (let i = 1; i <= 20; i++) align(workspace, reference, donorAt(i / 4), 8)
  expect(workspace.byteLength).toBe(before)
})

test('of two workspaces neither knows the other: samples of one are copied into the other', () => {
  const [mine, other] = [new Workspace(), new Workspace()]
  const picture = grainy(40, 9)
  const wanted = smooth(mine, picture).data
  const found = other.within((theirs) => {
    const data = theirs.floats(picture.data.length)
    data.set(picture.data)
    return mine.within((scratch) => {
      scratch.floats(500).fill(7)
      return smooth(mine, { ...picture, data }).data
    })
  })
  expect(found).toEqual(wanted)
})

// Below and above what is copied another way.
test.each([1, 100, 4095, 4096, 5001])('%i samples at odd places come and go as they are', (length) => {
  const workspace = new Workspace()
  const random = normal(length)
  for (const place of [0, 1, 3]) {
    const whole = Float32Array.from({ length: length + 4 }, random)
    const samples = whole.subarray(place, place + length)
    const wanted = whole.slice()
    for (let i = place; i < place + length; i++) wanted[i] = Math.fround(whole[i] + Math.fround(2 * whole[i]))
    // In, changed, and out: no sample beside them is.
    addScaled(workspace, samples.slice(), null, 2, samples)
    expect(whole).toEqual(wanted)
    expect(workspace.within((scratch) => Float32Array.from(scratch.laid(samples)))).toEqual(samples)
  }
  workspace.close()
})

test('what is asked for empty is 0, whatever was there', () => {
  const workspace = new Workspace()
  for (const length of [1, 5, 4096, 400_000]) {
    workspace.within((scratch) => scratch.floats(length).fill(7))
    workspace.within((scratch) => {
      const beside = scratch.floats(3).fill(5)
      const zeros = scratch.zeros(length)
      const after = scratch.floats(3).fill(5)
      expect(zeros.every((v) => v === 0)).toBe(true)
      expect([...scratch.zeros(length)].some((v) => v !== 0)).toBe(false)
      expect([...beside, ...after]).toEqual([5, 5, 5, 5, 5, 5])
    })
  }
  const held = workspace.hold()
  held.floats(1000).fill(3)
  held.release()
  expect(workspace.hold().zeros(1000)).toEqual(new Float32Array(1000))
  workspace.close()
})

// Making and writing overlap: what holds whatever takes longer, and when something fails.
import { setTimeout as after } from 'node:timers/promises'
import { expect, test } from 'vitest'
import { makeThenWrite } from '../../src/repair/make-then-write.js'

const ITEMS = [1, 2, 3, 4, 5, 6]

test('frames are made in order, one at a time, and each is written with what was made of it', async () => {
  let making = 0
  const made: number[] = []
  const written: [number, string][] = []
  await makeThenWrite(
    ITEMS,
    async (item) => {
      expect(++making).toBe(1)
      made.push(item)
      await after(2)
      making--
      return `frame ${item}`
    },
    async (frame, item) => {
      // the first takes longest, so that they do not end in order
      await after(item === 1 ? 20 : 1)
      written.push([item, frame])
    },
  )
  expect(made).toEqual(ITEMS)
  expect(written.sort()).toEqual(ITEMS.map((item) => [item, `frame ${item}`]))
})

test('two are written at a time, and no more', async () => {
  let [writing, most] = [0, 0]
  await makeThenWrite(
    ITEMS,
    async () => null,
    async () => {
      most = Math.max(most, ++writing)
      await after(3)
      writing--
    },
  )
  expect([writing, most]).toEqual([0, 2])
})

test.each(['make', 'write'])(
  'a failure to %s ends it when nothing is being written any more',
  async (which) => {
    let writing = 0
    const made: number[] = []
    const cause = new Error('frame 2')
    const fail = async (item: number, now: string) => {
      if (item === 2 && which === now) throw cause
    }
    await expect(
      makeThenWrite(
        ITEMS,
        async (item) => {
          made.push(item)
          await fail(item, 'make')
        },
        async (_, item) => {
          writing++
          try {
            await fail(item, 'write')
            await after(10)
          } finally {
            writing--
          }
        },
      ),
    ).rejects.toBe(cause)
    expect(writing).toBe(0)
    expect(made.length).toBeLessThan(ITEMS.length)
  },
)

import { expect, test } from 'vitest'
import { atOnce, begun, inWords, type Steps, Turns, untilAborted } from '../src/turns.js'

/** Work of so many steps, each as long as a few turns are to be. */
function* counting(steps: number, milliseconds: number): Steps<number, number> {
  for (let i = 0; i < steps; i++) {
    const end = performance.now() + milliseconds
    while (performance.now() < end);
    yield i
  }
  return steps
}

test('between turns a timer gets its say, and without turns it does not', async () => {
  let said = 0
  const timer = setInterval(() => said++, 1)
  atOnce(counting(8, 10))
  expect(said).toBe(0)
  expect(await new Turns().run(counting(8, 10))).toBe(8)
  clearInterval(timer)
  expect(said).toBeGreaterThanOrEqual(2)
})

test('work that is called off ends at its next turn, with the reason', async () => {
  const off = new AbortController()
  const reason = new Error('enough')
  setTimeout(() => off.abort(reason), 5)
  let reached = 0
  const heard = new Turns(off.signal).heard(counting(100, 10))
  const all = async () => {
    for await (const i of heard) reached = i
  }
  await expect(all()).rejects.toBe(reason)
  expect(reached).toBeLessThan(50)
})

test('what is told comes in order, and the end is returned', async () => {
  const told: string[] = []
  const source = inWords(new Turns().heard(counting(3, 0)), (i) => `step ${i}`)
  for (;;) {
    const next = await source.next()
    if (next.done) {
      expect(next.value).toBe(3)
      break
    }
    told.push(next.value)
  }
  expect(told).toEqual(['step 0', 'step 1', 'step 2'])
})

test('a source that never answers is not waited for once it is called off', async () => {
  const off = new AbortController()
  const reason = new Error('enough')
  async function* stuck(): AsyncGenerator<number> {
    yield 1
    await new Promise(() => {})
  }
  const seen: number[] = []
  const all = async () => {
    for await (const i of untilAborted(stuck(), off.signal)) {
      seen.push(i)
      setTimeout(() => off.abort(reason), 1)
    }
  }
  await expect(all()).rejects.toBe(reason)
  expect(seen).toEqual([1])
})

test('a source is closed where its listener stops, and where it was not called off that is waited for', async () => {
  let closed = false
  async function* open(): AsyncGenerator<number> {
    try {
      for (let i = 0; ; i++) yield i
    } finally {
      await new Promise(setImmediate)
      closed = true
    }
  }
  for await (const _ of untilAborted(open(), new AbortController().signal)) break
  expect(closed).toBe(true)
})

test('what is begun is at work before anybody asks, hands on all of it, and is closed where its listener stops', async () => {
  const did: string[] = []
  async function* two(): AsyncGenerator<number, string> {
    try {
      did.push('first')
      yield 1
      yield 2
      return 'all'
    } finally {
      did.push('closed')
    }
  }
  const all = begun(two())
  expect(did).toEqual(['first'])
  expect([await all.next(), await all.next(), await all.next()]).toEqual([
    { done: false, value: 1 },
    { done: false, value: 2 },
    { done: true, value: 'all' },
  ])
  expect(did).toEqual(['first', 'closed'])
  for await (const _ of begun(two())) break
  expect(did).toEqual(['first', 'closed', 'first', 'closed'])
  const unheard = begun(two())
  await new Promise(setImmediate)
  await unheard.return('')
  expect(did.slice(4)).toEqual(['first', 'closed'])
})

test('what fails before anybody asks is heard by whoever asks', async () => {
  const reason = new Error('no such frame')
  // biome-ignore lint/correctness/useYield: it fails before it has anything
  async function* failing(): AsyncGenerator<number> {
    throw reason
  }
  const all = begun(failing())
  await new Promise(setImmediate)
  await expect(all.next()).rejects.toBe(reason)
})

// Who is served next. Laws: the one asked for last first, nobody who has gone, and who waits before what is only measured.
import { expect, test } from 'vitest'
import { Lanes } from '../../src/desk/pictures/lanes.js'

/** Jobs that are begun one by one. */
function recorder(lanes: Lanes) {
  const begun: string[] = []
  const ends: (() => void)[] = []
  const add = (lane: 'now' | 'soon' | 'later', name: string, signal?: AbortSignal) =>
    lanes.run(
      lane,
      () => {
        begun.push(name)
        return new Promise<string>((resolve) => ends.push(() => resolve(name)))
      },
      signal,
    )
  const endOne = async () => {
    ends.shift()!()
    await new Promise(setImmediate)
  }
  return { begun, add, endOne }
}

test('of those who wait the last one comes first, then what is wanted soon, then what is measured', async () => {
  const { begun, add, endOne } = recorder(new Lanes(1))
  void add('later', 'first')
  for (const name of ['m1', 'm2']) void add('later', name)
  for (const name of ['s1', 's2']) void add('soon', name)
  for (const name of ['n1', 'n2', 'n3']) void add('now', name)
  for (let i = 0; i < 6; i++) await endOne()
  expect(begun).toEqual(['first', 'n3', 'n2', 'n1', 's1', 's2'])
  // Nothing is measured until nobody has asked for a while.
  await new Promise((resolve) => setTimeout(resolve, 300))
  expect(begun.slice(6)).toEqual(['m1'])
})

test('who has gone is not served, and who has been begun is', async () => {
  const { begun, add, endOne } = recorder(new Lanes(1))
  const gone = new AbortController()
  const running = add('now', 'running', gone.signal)
  const waiting = add('now', 'waiting', gone.signal)
  const other = add('now', 'other')
  gone.abort(new Error('gone'))
  await expect(waiting).rejects.toThrow('gone')
  await endOne()
  await endOne()
  expect([await running, await other, begun]).toEqual(['running', 'other', ['running', 'other']])
  await expect(add('now', 'late', gone.signal)).rejects.toThrow('gone')
})

test('one place is always left for those who wait', () => {
  const { begun, add } = recorder(new Lanes(3))
  for (const name of ['s1', 's2', 's3']) void add('soon', name)
  expect(begun).toEqual(['s1', 's2'])
  void add('now', 'n1')
  void add('now', 'n2')
  expect(begun).toEqual(['s1', 's2', 'n1'])
})

test('nothing is measured while somebody waits, however long, though a place is free', async () => {
  const { begun, add, endOne } = recorder(new Lanes(2))
  void add('now', 'n1')
  void add('later', 'm1')
  await new Promise((resolve) => setTimeout(resolve, 300))
  expect(begun).toEqual(['n1'])
  await endOne()
  await new Promise((resolve) => setTimeout(resolve, 300))
  expect(begun).toEqual(['n1', 'm1'])
})

test('of two places none goes to what is wanted soon while somebody waits, of three one', async () => {
  for (const [width, soon] of [
    [2, 0],
    [3, 1],
  ]) {
    const { begun, add, endOne } = recorder(new Lanes(width!))
    void add('now', 'n')
    for (const name of ['s1', 's2', 's3']) void add('soon', name)
    expect(begun).toEqual(['n', 's1', 's2', 's3'].slice(0, 1 + soon!))
    await endOne()
    expect(begun).toHaveLength(width!)
  }
})

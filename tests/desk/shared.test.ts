// Work that several wait for. Laws: it is done once, goes on while anybody waits, and is given up when nobody does.
import { expect, test } from 'vitest'
import { Shared } from '../../src/desk/pictures/shared.js'

function setUp() {
  const shared = new Shared<string>()
  const begun: { wanted: AbortSignal; end: (answer: string) => void; fail: (cause: Error) => void }[] = []
  const ask = (key: string, wait = new AbortController().signal) =>
    shared.of(key, wait, (wanted) => new Promise((end, fail) => begun.push({ wanted, end, fail })))
  return { begun, ask }
}

test('two who ask for the same have one work done, and who asks for another has another', async () => {
  const { begun, ask } = setUp()
  const all = [ask('a'), ask('a'), ask('b')]
  expect(begun).toHaveLength(2)
  begun[0]!.end('first')
  begun[1]!.end('second')
  expect(await Promise.all(all)).toEqual(['first', 'first', 'second'])
  // What is done is asked for anew.
  void ask('a')
  expect(begun).toHaveLength(3)
})

test('who goes is let go at once, and the work goes on for who stays', async () => {
  const { begun, ask } = setUp()
  const gone = new AbortController()
  const [leaving, staying] = [ask('a', gone.signal), ask('a')]
  gone.abort(new Error('gone'))
  await expect(leaving).rejects.toThrow('gone')
  expect(begun[0]!.wanted.aborted).toBe(false)
  begun[0]!.end('done')
  expect(await staying).toBe('done')
})

test('when nobody waits the work is told, and who comes then begins anew', async () => {
  const { begun, ask } = setUp()
  const gone = new AbortController()
  const both = Promise.allSettled([ask('a', gone.signal), ask('a', gone.signal)])
  gone.abort(new Error('gone'))
  expect((await both).map(({ status }) => status)).toEqual(['rejected', 'rejected'])
  expect(begun[0]!.wanted.aborted).toBe(true)
  const next = ask('a')
  begun[0]!.fail(new Error('given up'))
  begun[1]!.end('done')
  expect(await next).toBe('done')
  await expect(ask('a', gone.signal)).rejects.toThrow('gone')
  expect(begun).toHaveLength(2)
})

test('a failure reaches all who wait', async () => {
  const { begun, ask } = setUp()
  const all = Promise.allSettled([ask('a'), ask('a')])
  begun[0]!.fail(new Error('broken'))
  expect(await all).toMatchObject([{ reason: { message: 'broken' } }, { reason: { message: 'broken' } }])
})

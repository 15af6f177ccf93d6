// Changes on their way. Truth: a model server that answers when told to.
import { expect, test } from 'vitest'
import { changed } from '../../../src/desk/changed.js'
import { merged, outbox, overlaid } from '../../../src/desk/page/outbox.js'
import { type Change, newShot } from '../../../src/desk/shot-state.js'

const SHOT = newShot('quay', '/plates/quay', 1001)

/** Answers one change after the other, when it is told to. */
function server() {
  const got: Change[] = []
  const waiting: { answer: () => void; refuse: (error: Error) => void }[] = []
  return {
    got,
    send: (change: Change) => {
      got.push(change)
      return new Promise<void>((answer, refuse) => waiting.push({ answer, refuse }))
    },
    next: () => waiting.shift()!,
  }
}

const turn = () => new Promise((done) => setTimeout(done))

test('two changes laid over each other are as one after the other', () => {
  const a: Change = { asked: { grow: 2, frames: '1001' }, view: { gamma: 2 } }
  const b: Change = { asked: { grow: 5 }, patch: { whole: true } }
  const { revision: _, ...after } = changed(changed(SHOT, a), b)
  expect(changed(SHOT, merged(a, b))).toMatchObject(after)
})

test('what is changed shows at once, and goes one after the other, the last of each alone', async () => {
  const { got, send, next } = server()
  let mine: Change | null = null
  const out = outbox(
    send,
    (change) => (mine = change),
    (error) => expect.fail(String(error)),
  )
  out.add({ asked: { grow: 1 } })
  expect(overlaid(SHOT, mine).asked.grow).toBe(1)
  await turn()
  out.add({ asked: { grow: 2 } })
  out.add({ asked: { grow: 3, frames: '1060' } })
  expect(overlaid(SHOT, mine).asked).toMatchObject({ grow: 3, frames: '1060' })
  await turn()
  expect(got).toEqual([{ asked: { grow: 1 } }])
  next().answer()
  await turn()
  expect(got[1]).toEqual({ asked: { grow: 3, frames: '1060' } })
  next().answer()
  await out.sent()
  expect(mine).toBeNull()
  expect(out.waiting).toBe(false)
})

test('a change that is refused is said and dropped; the next one goes', async () => {
  const { got, send, next } = server()
  let mine: Change | null = null
  const said: unknown[] = []
  const out = outbox(
    send,
    (change) => (mine = change),
    (error) => said.push(error),
  )
  out.add({ asked: { frames: 'x' } })
  await turn()
  const refusal = new Error('frames takes numbers')
  next().refuse(refusal)
  await turn()
  expect(said).toEqual([refusal])
  expect(mine).toBeNull()
  out.add({ asked: { frames: '1060' } })
  await turn()
  next().answer()
  await out.sent()
  expect(got).toHaveLength(2)
})

test("another page's change of something else stays under what is on its way here", () => {
  const theirs = changed(SHOT, { asked: { surround: 40 } })
  expect(overlaid(theirs, { asked: { grow: 4 } }).asked).toMatchObject({ surround: 40, grow: 4 })
  expect(overlaid(theirs, { asked: { grow: 4 } }).revision).toBe(theirs.revision)
})

test('what the server could not be reached with is kept, goes with what came after it, and nothing is sent twice', async () => {
  const { got, send, next } = server()
  const away = new Error('away')
  const failed: unknown[] = []
  let mine: Change | null = null
  const out = outbox(
    send,
    (change) => (mine = change),
    (error) => failed.push(error),
    (error) => error === away,
  )
  out.add({ asked: { grow: 1, frames: '1001' } })
  await turn()
  next().refuse(away)
  await out.sent()
  expect([failed, out.waiting]).toEqual([[away], true])
  expect(overlaid(SHOT, mine).asked).toMatchObject({ grow: 1, frames: '1001' })
  out.add({ asked: { grow: 2 } })
  await turn()
  expect(got[1]).toEqual({ asked: { grow: 2, frames: '1001' } })
  next().refuse(away)
  await out.sent()
  out.again()
  await turn()
  expect(got[2]).toEqual(got[1])
  next().answer()
  await out.sent()
  expect([mine, out.waiting]).toEqual([null, false])
  out.again()
  await turn()
  expect(got).toHaveLength(3)
})

// Taking back and doing again. Truth: laws of going back and forth over a model that keeps every state.
import fc from 'fast-check'
import { expect, test } from 'vitest'
import { History } from '../../../src/desk/page/undo.js'

interface Values {
  frames: string
  grow: number
}

test('all taken back is as it began, all done again as it ended, whatever was done', () => {
  const change = fc.oneof(
    fc.record({ frames: fc.string({ maxLength: 4 }) }),
    fc.record({ grow: fc.integer() }),
    fc.record({ frames: fc.string({ maxLength: 4 }), grow: fc.integer() }),
  )
  fc.assert(
    fc.property(fc.array(change, { maxLength: 20 }), (changes) => {
      const history = new History<Values>()
      const states: Values[] = [{ frames: '', grow: 0 }]
      for (const [i, after] of changes.entries()) {
        const now = states[states.length - 1]
        const before = Object.fromEntries(Object.keys(after).map((k) => [k, now[k as keyof Values]]))
        history.record(before, after, null, i)
        states.push({ ...now, ...after })
      }
      let now = states[states.length - 1]
      for (let i = states.length - 2; i >= 0; i--) {
        now = { ...now, ...history.undo() }
        expect(now).toEqual(states[i])
      }
      expect(history.undo()).toBeNull()
      for (let i = 1; i < states.length; i++) {
        now = { ...now, ...history.redo() }
        expect(now).toEqual(states[i])
      }
      expect(history.redo()).toBeNull()
    }),
  )
})

test('steps of one run are taken back together, a pause or another run ends it', () => {
  const history = new History<Values>()
  history.record({ grow: 0 }, { grow: 1 }, 'grow', 0)
  history.record({ grow: 1 }, { grow: 2 }, 'grow', 400)
  history.record({ grow: 2 }, { grow: 3 }, 'grow', 5000)
  history.record({ grow: 3 }, { grow: 4 }, 'other', 5001)
  expect([history.undo(), history.undo(), history.undo(), history.undo()]).toEqual([
    { grow: 3 },
    { grow: 2 },
    { grow: 0 },
    null,
  ])
})

test('what was taken back is gone once something else is done', () => {
  const history = new History<Values>()
  history.record({ grow: 0 }, { grow: 1 }, null, 0)
  history.undo()
  history.record({ grow: 0 }, { grow: 7 }, null, 1)
  expect(history.canRedo).toBe(false)
  expect(history.redo()).toBeNull()
})

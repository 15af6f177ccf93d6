// Which pictures are on their way. Laws: what is wanted most always is, and only what is wanted less gives way to it.
import { afterEach, beforeEach, expect, test, vi } from 'vitest'
import { Pictures } from '../../../src/desk/page/pictures.js'

/** In the order of their asking; those given up are taken out. */
let onTheWay: string[]
let givenUp: string[]

beforeEach(() => {
  onTheWay = []
  givenUp = []
  vi.stubGlobal('fetch', (address: string, { signal }: { signal: AbortSignal }) => {
    onTheWay.push(address)
    return new Promise((_, reject) => {
      signal.addEventListener('abort', () => {
        onTheWay.splice(onTheWay.indexOf(address), 1)
        givenUp.push(address)
        reject(signal.reason)
      })
    })
  })
})
afterEach(() => {
  vi.unstubAllGlobals()
})

const frames = (...numbers: number[]) => numbers.map((number) => `${number}.jpg`)

test('what is wanted and on its way stays so, whatever another part wants or no longer does', () => {
  const pictures = new Pictures(() => {})
  pictures.want('whole', frames(1, 2, 3, 4, 5, 6))
  expect(onTheWay).toEqual(frames(1, 2, 3, 4))
  pictures.want('finer', [])
  pictures.want('whole', frames(1, 2, 3, 4, 5, 6))
  expect(givenUp).toEqual([])
})

test('of what is wanted that which is wanted least gives way to what is wanted first', () => {
  const pictures = new Pictures(() => {})
  pictures.want('whole', frames(1, 2, 3, 4, 5))
  pictures.want('whole', frames(9, 4, 3, 2, 1))
  expect(givenUp).toEqual(frames(1))
  expect(onTheWay).toEqual(frames(2, 3, 4, 9))
})

test('what nobody wants any more gives way before what is still wanted', () => {
  const pictures = new Pictures(() => {})
  pictures.want('whole', frames(1, 2, 3, 4))
  pictures.want('whole', frames(4, 3, 1, 5, 6))
  expect(givenUp).toEqual(frames(2))
  expect(onTheWay).toEqual(frames(1, 3, 4, 5))
})

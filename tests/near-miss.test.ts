// Which name is suggested for one that is not there.
import { expect, test } from 'vitest'
import { nearMiss } from '../src/near-miss.js'

const IDS = ['hold-1057', 'stack-1', 'run-4', 'run+18']

test.each([
  ['stck-1', 'stack-1'],
  ['Stack-1', 'stack-1'],
  ['hold1057', 'hold-1057'],
  ['run-18', 'run+18'],
])('%s: %s was meant', (name, meant) => expect(nearMiss(name, IDS)).toBe(meant))

test.each(['porter', 'x', ''])('"%s" is near none', (name) => expect(nearMiss(name, IDS)).toBe(null))

test('of two files nearness is told by their names, not by the ending that both have', () => {
  expect(nearMiss('nope.png', ['odd.png', 'full.png'])).toBe(null)
  expect(nearMiss('portr.png', ['odd.png', 'porter.png'])).toBe('porter.png')
  expect(nearMiss('porter.pgn', ['odd.png', 'porter.png'])).toBe('porter.png')
})
